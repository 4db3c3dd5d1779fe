"""Covariance of intervals: functions, anisotropy, layers and their kernels."""
