"""Many candidates for the rework, compared: what each leaves of the stiffness and what it takes out."""
