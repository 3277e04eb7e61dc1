"""Slips put into a clean season on purpose: to measure what an audit sees, and to practise on."""
