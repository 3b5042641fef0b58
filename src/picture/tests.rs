//! Checks of the drawings.
