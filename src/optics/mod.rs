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

mod foam;
mod kubelka_munk;
mod layer;
mod model;
mod surface;
mod transport;

pub use foam::Foam;
pub use kubelka_munk::{Film, KubelkaMunk, thick_reflectance};
pub use layer::{Beneath, Coefficients, Layer, LayerModel};
pub use model::Model;
pub use surface::{
    Specular, Surface, diffuse_reflectance_from_outside, diffuse_reflectance_from_within,
};
pub use transport::{Behind, Depths, Directions, Slab, Transport};
