"""How JupyterLab is set up for the lessons: its settings, its two extensions, and what it saves."""
