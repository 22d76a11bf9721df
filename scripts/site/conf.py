# Sphinx, as scripts/site.mjs calls it (docs/decisions/0034-documentation-site.md).

project = "lampwright"
author = "The lampwright authors"
copyright = "The lampwright authors"

extensions = ["myst_parser"]
root_doc = "index"
source_suffix = {".md": "markdown"}
# Links to headings, as in the cookbook of "write a show".
myst_heading_anchors = 4
# The first heading of a page may stand below others in the generated ones.
suppress_warnings = ["myst.header"]
# Blocks without a language are commands or their output.
highlight_language = "none"

html_theme = "furo"
html_show_sphinx = False
html_copy_source = False
html_show_sourcelink = False
# Pages are read from a folder: no server, no network.
html_use_index = False
