"""The sheet that lies on the bench while a batch or an order is made."""
