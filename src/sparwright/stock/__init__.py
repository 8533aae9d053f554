"""Materials, sections and the member: features laid out on faces, and solids of them."""
