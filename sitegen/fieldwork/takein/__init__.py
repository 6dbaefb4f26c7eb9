"""Exports of the field form, merged into the tables of the folder."""
