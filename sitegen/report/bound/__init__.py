"""What stands between covers, and the site's front."""
