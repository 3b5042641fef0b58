//! Practice prints and cards with known truth.
