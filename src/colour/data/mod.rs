//! Numbers only: the published tables that colour stands on, each headed by its citation.

#[expect(
    clippy::approx_constant,
    reason = "a lamp's power that happens to read 3.14"
)]
pub(in crate::colour) mod cie_illuminants;
pub(in crate::colour) mod cie_observers;
