"""How an order is made: cut as one, bought for, made in batches, looked at afterwards."""
