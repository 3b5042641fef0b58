//! Ridge field to cores and deltas.
