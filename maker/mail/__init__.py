"""Letters by e-mail: into a folder, or by the server that was set up on a page."""
