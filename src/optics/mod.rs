//! Light in layers: what a stack of coloured films on a backing sends back.
//!
//! A [`Layer`] has [`Coefficients`] K and S per millimetre and a thickness. A [`LayerModel`] says how a
//! stack of layers, bonded to each other, on what lies [`Beneath`], is read by an instrument through the air
//! [`Surface`]. There are two models behind that question, with the same K and S: [`Transport`], which knows
//! directions, and [`KubelkaMunk`], which knows up and down. [`Foam`] turns the coefficients of a solid into
//! those of its foam.
//!
//! K and S here are those of Kubelka and Munk: of diffuse light, twice the absorption and three quarters
//! of the reduced scattering coefficient that radiative transfer speaks of (K = 2 µa, S = ¾ µs′).
//!
//! # One question
//!
//! Nothing outside this room but the word in `book.toml` notices which model answers. A model also says by how much it
//! errs itself ([`LayerModel::own_spread`]), which joins the spread of a prediction.
//!
//! # Transport at the price of two fluxes
//!
//! One film on a diffuse backing sends back α + β Rg / (1 − γ Rg), with α, β, γ functions of µa·d and µs′·d alone. In a
//! stack a film is two 6 × 6 matrices of the same depths. A bed is one matrix, of µa / µs′; it may not be taken as a
//! diffuse backing, which under a thin film is up to 6 L* off. All are tabulated by adding and doubling, once for a
//! refractive index and when first asked for, and read as bicubic splines. A reading of 36 bands takes microseconds on
//! a backing, some tens of microseconds in a stack.
//!
//! Six directions serve: three that are caught inside, two that leave, and the beam, with the surface's reflectance
//! averaged over each one's share of angles. They come within 0.02 ΔE00 of sixteen and of thirty-two on painted parts
//! (`tests/layer_stacks.rs`); four plain nodes are 0.3 off. A film laid dry has a table of nine: light near total
//! reflection meets two surfaces, and with two directions that leave, a nearly clear film was 0.4 L* off. One asymmetry,
//! 0.65, serves all pigments; were all of a part's 0.5 or 0.8 at the same µs′, it would be 0.2 ΔE00 off, which is most
//! of the model's own spread.
//!
//! # Two fluxes without lost digits
//!
//! R and T lose digits where they nearly cancel (K → 0 over a white backing). [`Film`] keeps the terms of its hyperbolic
//! solution instead, each multiplied by 2 e^(−γx): exact to 1e-12 at every limit, with one branch, for the series at
//! zero.

pub(crate) mod b_spline;
mod foam;
mod kubelka_munk;
mod layer;
mod model;
mod surface;
mod transport;

pub use foam::Foam;
pub use kubelka_munk::{Film, KubelkaMunk, thick_reflectance};
pub use layer::{Beneath, Coefficients, Layer, LayerModel, Medium};
pub use model::Model;
pub use surface::{
    Specular, Surface, diffuse_reflectance_from_outside, diffuse_reflectance_from_within,
};
pub use transport::{Behind, Depths, Directions, Slab, Transport};
