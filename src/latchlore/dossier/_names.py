"""What the files of a dossier are called."""

PAGE = "index.html"
TWIN = "dossier.json"
SCHEMA = "dossier.schema.json"
CITATIONS = "citations.json"
