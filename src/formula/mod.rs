//! Ten fingers to the written classification.
