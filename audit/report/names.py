"""How the files begin that reports write, so that a later run replaces those and nothing else. No imports:
the command line asks before anything is loaded."""

PAGE_BEGINS = "<!DOCTYPE html>\n<!-- a report of stemaudit -->"
REBOUNCE_HEADING = "To bounce again"
REBOUNCE_COLUMNS = (
    "group", "song", "stem", "what is wrong", "what is wanted", "place", "rule", "severity",
)  # fmt: skip
REBOUNCE_BEGINS = (f"# {REBOUNCE_HEADING}", REBOUNCE_HEADING, ",".join(REBOUNCE_COLUMNS[:4]))
TABLES_BEGIN = {
    "stems.csv": "song,stem,role", "findings.csv": "severity,rule,songs", "songs.csv": "song,folder,verdict",
}  # fmt: skip
