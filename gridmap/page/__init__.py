"""The review page's server: loopback only, one map, one token."""
