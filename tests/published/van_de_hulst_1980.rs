//! H. C. van de Hulst (1980), Multiple Light Scattering, volume 2, Academic Press, table 35; as given by L. Wang,
//! S. L. Jacques, L. Zheng (1995), MCML – Monte Carlo modeling of light transport in multi-layered tissues, Computer
//! Methods and Programs in Biomedicine 47, 131–146, table 1. The book was not at hand; the two values are from memory.
//!
//! Tested: `Directions::slab`, without a surface. A slab of optical thickness 2, albedo 0.9 and asymmetry 0.75 (Henyey
//! and Greenstein's law), under a perpendicular beam, sends back 0.09739 and lets pass 0.66096.

use dropwise::optics::{Behind, Directions};

use super::{assert_agrees, depths};

/// The values are printed to five digits; what is left is for the directions, which are few.
const TOLERANCE: f64 = 2e-5;

#[test]
fn a_slab_without_surfaces_sends_back_and_lets_pass_what_is_tabulated() {
    let directions: Directions<25> = Directions::new(1.0, 0.75, 0);
    let slab = directions.slab(depths(2.0, 0.9, 0.75));
    let black = slab.over(&directions.sent_back(Behind::Bonded(0.0)));
    assert_agrees("reflected", directions.read(&black), 0.09739, TOLERANCE);
    assert_agrees("passed", slab.passed.column(24).sum(), 0.66096, TOLERANCE);
}
