//! R. G. Giovanelli (1955), Reflection by semi-infinite diffusers, Optica Acta 2, 153–162; as given by L. Wang,
//! S. L. Jacques, L. Zheng (1995), MCML – Monte Carlo modeling of light transport in multi-layered tissues, Computer
//! Methods and Programs in Biomedicine 47, 131–146, table 2. The paper was not at hand; the value is from memory.
//!
//! Tested: `Directions::slab` and `read`, through a surface. A bed without end of refractive index 1.5 and albedo 0.9
//! that scatters alike in all directions, under a perpendicular beam from air, sends back 0.2600, with the 0.04 that
//! its surface mirrors.

use dropwise::optics::{Behind, Directions};

use super::{assert_agrees, depths};

/// One unit of the last digit printed: with more directions the value settles at 0.25992.
const TOLERANCE: f64 = 1e-4;

#[test]
fn a_bed_without_end_sends_back_through_its_surface_what_is_tabulated() {
    let directions: Directions<33> = Directions::new(1.5, 0.0, 16);
    // Nothing comes back from so deep.
    let slab = directions.slab(depths(1000.0, 0.9, 0.0));
    let within = slab.over(&directions.sent_back(Behind::Bonded(0.0)));
    let reflected = 0.04 + directions.read(&within);
    assert_agrees("reflected", reflected, 0.2600, TOLERANCE);
}
