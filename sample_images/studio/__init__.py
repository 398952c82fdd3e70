"""The studio: renders joints of known truth. It imports nothing of the measuring code.

The one exception is the wire table, which is data.
"""
