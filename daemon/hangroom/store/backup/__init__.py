"""Backups: one zip file with database, photos and settings, made while all runs, and put back.

`retention` says which to drop, `manifest` what stands in one, `copying` makes it, `checking` trusts
nothing in a file, `placing` puts it back, `outcome` keeps how the last one went.
"""
