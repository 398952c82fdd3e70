"""Demo photos, and the studio that renders them."""
