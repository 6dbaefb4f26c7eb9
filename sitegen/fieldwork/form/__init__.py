"""The form that is filled in outdoors: one HTML file without a server or a network."""
