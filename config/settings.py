"""Settings. Safe by default: without BARESPOT_MODE it is production, and production asks for a secret key and host names.

BARESPOT_MODE is "production" (default), "demo" (a local show on SQLite) or "test".
"""

from __future__ import annotations

import os
from pathlib import Path

import dj_database_url
from csp.constants import NONCE, NONE, SELF
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
MODE = os.environ.get("BARESPOT_MODE", "production")
if MODE not in {"production", "demo", "test"}:
    raise ImproperlyConfigured(f'BARESPOT_MODE is "{MODE}"; allowed: production, demo, test.')
PRODUCTION = MODE == "production"
DEMO = MODE == "demo"
DEBUG = False

SECRET_KEY = os.environ.get("BARESPOT_SECRET_KEY", "")
if not SECRET_KEY:
    if PRODUCTION:
        raise ImproperlyConfigured("Set BARESPOT_SECRET_KEY to a long random text (50 characters or more).")
    SECRET_KEY = "only-for-the-demo-and-the-tests-" + "x" * 32

ALLOWED_HOSTS = [host for host in os.environ.get("BARESPOT_HOSTS", "").split(",") if host]
if not PRODUCTION and not ALLOWED_HOSTS:
    ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", "testserver"]
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS] if PRODUCTION else []

# Worksheets answer without stored data: to everybody, or to who is signed in.
WORKSHEETS = os.environ.get("BARESPOT_WORKSHEETS", "public")
if WORKSHEETS not in {"public", "signed-in"}:
    raise ImproperlyConfigured(f'BARESPOT_WORKSHEETS is "{WORKSHEETS}"; allowed: public, signed-in.')

INSTALLED_APPS = [
    "accounts",
    "mapping",
    "inspections",
    "repairs",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.humanize",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "csp",
    "rest_framework",
    "knox",
    "django_filters",
    "drf_spectacular",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "accounts.languages.PersonsLanguage",
    "accounts.pages.RefusalsOnPages",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "accounts.pages.shell",
            ],
        },
    }
]

# Every change runs in one immediate transaction; full sync because a phone deletes its copy on our word;
# recursive triggers because INSERT OR REPLACE would otherwise pass the delete guards.
SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 30,
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA recursive_triggers=ON; PRAGMA foreign_keys=ON;",
}
DATABASES = {
    "default": dj_database_url.config(
        env="DATABASE_URL",
        default=f"sqlite:///{BASE_DIR / ('demo.sqlite3' if DEMO else 'barespot.sqlite3')}",
        conn_max_age=60,
        conn_health_checks=True,
    )
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = SQLITE_OPTIONS
    # A file, not memory: threads of the live server would lock each other out of a memory table.
    DATABASES["default"]["TEST"] = {"NAME": str(BASE_DIR / "test.sqlite3")}

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
# Sign-in limits must hold over all worker processes, so the cache lives in the database.
CACHES = {"default": {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "cache"}}
if MODE == "test":
    CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}

AUTH_USER_MODEL = "accounts.Person"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in ("UserAttributeSimilarityValidator", "MinimumLengthValidator", "CommonPasswordValidator")
]
if MODE == "test":
    ACCOUNT_RATE_LIMITS = False
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_ADAPTER = "accounts.signing_in.ClosedSignUp"
ACCOUNT_FORMS = {"login": "accounts.signing_in.SignIn"}
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_EMAIL_SUBJECT_PREFIX = "Barespot: "
ACCOUNT_REAUTHENTICATION_REQUIRED = True
ACCOUNT_REAUTHENTICATION_TIMEOUT = 3600
ACCOUNT_LOGIN_BY_CODE_ENABLED = False
ACCOUNT_PREVENT_ENUMERATION = True
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_TOTP_ISSUER = "Barespot"
EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
if PRODUCTION and os.environ.get("EMAIL_HOST"):
    EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    EMAIL_HOST = os.environ["EMAIL_HOST"]
    EMAIL_PORT = int(os.environ.get("EMAIL_PORT", "587"))
    EMAIL_HOST_USER = os.environ.get("EMAIL_HOST_USER", "")
    EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_HOST_PASSWORD", "")
    EMAIL_USE_TLS = True
DEFAULT_FROM_EMAIL = os.environ.get("DEFAULT_FROM_EMAIL", "barespot@localhost")

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("es", "Español")]  # those whose catalogue is whole: tests/test_words.py
LOCALE_PATHS = [BASE_DIR / "accounts" / "locale"]
FORMAT_MODULE_PATH = ["accounts.formats"]  # numbers keep the decimal point in every language
TIME_ZONE = "UTC"
USE_TZ = True
USE_I18N = True

STATIC_URL = "static/"
# Demo and tests serve static files from where they lie.
STATIC_ROOT = BASE_DIR / "staticfiles" if PRODUCTION else None
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = not PRODUCTION
MEDIA_ROOT = Path(os.environ.get("BARESPOT_FILES", BASE_DIR / "files"))
DATA_UPLOAD_MAX_MEMORY_SIZE = 12 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 4 * 1024 * 1024

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF, NONCE],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "font-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "manifest-src": [SELF],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_AGE = 14 * 24 * 3600
if PRODUCTION:
    SECURE_SSL_REDIRECT = True
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if os.environ.get("BARESPOT_BEHIND_PROXY") else None
    SECURE_HSTS_SECONDS = 365 * 24 * 3600
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.SessionAuthentication",
        "accounts.tokens.TokenAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_PAGINATION_CLASS": "accounts.paging.ByCursor",
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "EXCEPTION_HANDLER": "accounts.problems.problem_answer",
    "DEFAULT_THROTTLE_RATES": {"worksheet": None if MODE == "test" else "120/min"},
    # Behind a proxy the last address of X-Forwarded-For is the asker's; else the header is anybody's word.
    "NUM_PROXIES": 1 if os.environ.get("BARESPOT_BEHIND_PROXY") else 0,
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
REST_KNOX = {
    "TOKEN_MODEL": "accounts.Token",
    "TOKEN_TTL": None,
    "SECURE_HASH_ALGORITHM": "hashlib.sha512",
}
KNOX_TOKEN_MODEL = "accounts.Token"
MIGRATION_MODULES = {"knox": None}  # they would make a second, unused token table that points to people
SPECTACULAR_SETTINGS = {
    "TITLE": "Barespot",
    "DESCRIPTION": "Flaw maps, test coverage and repair tracking for protective coatings. All lengths in metres.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "COMPONENT_SPLIT_REQUEST": True,
    # Choices are told where they are used: named apart they would clash ("kind" alone means a dozen things).
    "POSTPROCESSING_HOOKS": ["accounts.schema.tidied"],
}
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
