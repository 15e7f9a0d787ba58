"""The price board that stands on the table: one page for each group, large, without costs."""
