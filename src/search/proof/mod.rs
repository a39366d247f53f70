//! What the search missed, and that nothing else was: branch and bound over boxes of doses.
//!
//! # What is proven, and of which model
//!
//! Of whatever `LayerModel` predicts; nothing about Kubelka–Munk is used. For one cup in one placement a reading
//! depends, at each wavelength, on two numbers: the K and the S of the cup. `response` samples the model on a grid in
//! ln(K + K₀) and ln(S + S₀) and lays a bicubic B-spline through it; splines and their derivatives lie in the hull of
//! their control points, which bounds reading and curvature on any rectangle. Over a box of doses that gives a plane
//! and a slack for each reflectance (`planes`), so for X, Y, Z, and with the curvature of the cube root a zonotope
//! that holds L*, a*, b* of every recipe in it (`zonotope`); `colour::DifferenceFloor` turns its distance from the
//! target into a floor under ΔE00 (`bound`). The same inequalities, turned round, cut off doses that cannot be in a
//! good enough recipe. Drops add mass: K and S are ratios of linear forms, whose logarithms are bounded exactly.
//!
//! # What makes the boxes few
//!
//! Three things. The slack stays with its wavelength until a direction is given: where it moves X and Y alike it
//! hardly moves a*, and a third of the boxes go. A cup holds only M pigments, and a box that has more of them from no
//! drop up knows it (`open`): in any direction only the M that reach farthest count, which is the convex hull of such
//! cups, and of K and S at each wavelength the M largest; another third go, and half at eight pigments. And ΔE00 over
//! a region has two floors: by weights fixed where they make the length least, which loses a share of the difference
//! and serves near the target, and by tangents of ΔL′/S_L, ΔC′/S_C and ΔH′/S_H with their second derivatives bounded
//! (`colour/tangent.rs`), which loses a square of the region's size and serves far from it: without them the worst
//! unreachable targets take up to twice the boxes. Tried, to no gain: other rules for what to split and where; and
//! second derivatives of reflectance at the middle taken out as curves, since at the boxes that matter they vary by
//! as much.
//!
//! # What slack is allowed
//!
//! One: the spline's error. It is measured at cell middles (all those at the rim, and a quarter of the rest), at each
//! wavelength, doubled, and taken into every floor; on skin it is 2e-5 in reflectance at most, 0.005 ΔE00. It doesn't
//! blur the answer: a recipe that the kernel puts within that of the best known is read by the model itself, so the
//! ΔE00 that is told, and its rank, are the model's own. What is assumed, and not proven, is that the error is
//! nowhere more than twice the largest measured. Rounding is covered by margins of 1e-9, the logarithm's own error
//! (2e-11, `lanes`) by some of its own. What the spline's error does to a single recipe's ΔE00 is bounded by the
//! formula's greatest slopes (`colour/slack.rs`); near grey and at opposite hues, where it has none, the model is
//! asked. If a model is rough (a table with kinks, say), the measured error grows, more recipes are read by the
//! model, and the proof is slower, not wrong.
//!
//! # What a proof costs
//!
//! Printed by the bench `proof`, with [`Transport`](crate::optics::Transport), on a machine of two cores that
//! did nothing else. Unreachable targets lie fifteen to thirty units away from what can be made.
//!
//! ```text
//! time to the proven best (gap 0), at most 4 pigments of n, 40 drops each, 60 in all, ms
//! 20 targets a row, seed 1976 + n; one core by processor time, all 2 by the clock
//!
//! n  targets       one core: median    worst  in 1 s   all cores: median    worst  in 1 s
//! 3  reachable                 12.0     16.0  20/20                12.1     13.3  20/20
//! 3  unreachable               12.0     68.0  20/20                12.6     51.7  20/20
//! 4  reachable                 16.0     20.0  20/20                15.6     16.4  20/20
//! 4  unreachable               20.0    152.0  20/20                16.5    108.4  20/20
//! 5  reachable                 24.0     28.0  20/20                19.2     22.0  20/20
//! 5  unreachable               28.0     52.0  20/20                22.9     38.4  20/20
//! 6  reachable                 36.0     56.0  20/20                28.5     39.7  20/20
//! 6  unreachable               48.0    368.0  20/20                38.1    260.2  20/20
//! 7  reachable                 52.0    100.0  20/20                36.9     68.4  20/20
//! 7  unreachable              132.0    760.0  20/20                85.8    521.0  20/20
//! 8  reachable                 76.0    107.9  20/20                51.0     69.2  20/20
//! 8  unreachable              108.0    611.8  20/20                75.5    391.0  20/20
//! ```

mod axis;
mod bound;
#[cfg(test)]
mod checks;
mod hulls;
pub(super) mod instructions;
pub(super) mod kernel;
mod lanes;
mod open;
mod planes;
pub(super) mod prove;
pub(super) mod response;
mod zonotope;
