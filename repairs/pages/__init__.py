"""Pages that read across apps: today, assets, the zone sheet, patches, gates and the record."""
