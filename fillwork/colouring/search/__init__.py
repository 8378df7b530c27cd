"""The search for swatches: wishes, contrast, taste, colourways."""
