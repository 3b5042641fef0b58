//! Bytes to impressions: raster files, resolution, polarity, limits.
