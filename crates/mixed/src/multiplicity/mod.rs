//! Adjustments of a family of differences, and the distributions behind them.
