// The words of the scripts in the reader's language: the page brings those it needs, and English stands for the rest.

const words = JSON.parse(document.getElementById("script-words")?.textContent ?? "{}");

/** The sentence in the reader's language, its gaps {name} filled. */
export function say(sentence, gaps = {}) {
  const found = words[sentence] ?? sentence;
  return found.replace(/\{(\w+)\}/g, (gap, name) => gaps[name] ?? gap);
}
