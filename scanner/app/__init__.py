"""One user errand per file: joins the layers, and measures nothing itself."""
