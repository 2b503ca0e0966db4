"""Yearly payments that give back a price with interest, less what is left at the end, worked out by a general library of
finance. Run with numpy-financial installed; what it prints is kept beside it and read by tests/wear.rs, which needs no
Python: python3 capital_recovery.py > capital_recovery.csv
"""

from importlib.metadata import version

import numpy_financial

print(f"# numpy-financial {version('numpy-financial')} on numpy {version('numpy')}: -pmt(rate, years, price, -salvage)")
print("percent,years,price,salvage,yearly")
for percent in ("0", "0.25", "1", "2.5", "3", "5", "6.32", "8", "10", "12", "15"):
    for years in (1, 2, 3, 5, 8, 10, 15, 20, 30):
        for price, salvage in ((900, 0), (2400, 400), (93500, 25300)):
            yearly = -numpy_financial.pmt(float(percent) / 100, years, price, -salvage)
            print(f"{percent},{years},{price},{salvage},{yearly:.6f}")
