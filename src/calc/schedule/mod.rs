//! When each step runs, on shared clamps and stations, in opening hours.
