"""What was used, what stands on the shelf, what runs out, what to order; the controlled-drug book.

Start reading at compute.py. SQL of sql/models/50_stock/ gives positions, balances and use; this folder adds
forecasts and orders. The lists it writes are tables of their own, beside `results`.
"""

from pipeline.stock.compute import build, compute, forecast

__all__ = ["build", "compute", "forecast"]
