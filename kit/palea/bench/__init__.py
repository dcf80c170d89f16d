"""What goes between people and tables: entries, proposed and saved, and their drafts."""
