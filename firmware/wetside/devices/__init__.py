"""Thin adapters on the real libraries; each meets a port of wetside.ports."""
