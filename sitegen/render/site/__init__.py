"""Write the pages of the site."""
