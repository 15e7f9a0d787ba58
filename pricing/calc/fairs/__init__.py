"""Fairs: what to take, what the days brought, whether to go again."""
