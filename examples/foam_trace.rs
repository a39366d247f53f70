//! Light through a foam of gas spheres, ray by ray: what a moulded face of it reads bare and under a skin.
//!
//! Prints the numbers that `tests/foam_trace.csv` holds. `cargo run --release --example foam_trace -- 20000`; some minutes.
//!
//! Gas spheres of radius 1, thrown at random into a medium of n = 1.5, so that they overlap; their box repeats in all
//! directions, and z grows into the foam. The mould's wall at z = 0 cuts the spheres flat. Bare, that face is open: its gas is the
//! air before it. Or a skin of the medium lies on it, with air above. (A clear skin reads alike however thin, so that a bare
//! face which has a film of its own is one under a clear skin.) Each ray is mirrored or refracted whole, by Fresnel's law,
//! unpolarised. Geometric optics alone: no waves, and no scattering but at surfaces.
//!
//! How long each ray ran in skin and in the foam's solid is kept, so that one trace serves all absorptions (the law of
//! Bouguer). What is mirrored at the top counts, as in a sphere without gloss trap. Seed 13.

#![expect(clippy::print_stdout, reason = "it is what this program is for")]

const N: f64 = 1.5;
/// Width of the box that repeats, in radii.
const BOX: usize = 14;
/// Share of a ray's light under which it is given up.
const LEAST: f64 = 1e-3;
/// How far behind a surface a ray starts anew, in radii.
const STEP: f64 = 1e-9;

type Vector = [f64; 3];

fn dot(one: Vector, other: Vector) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
}

fn along(from: Vector, direction: Vector, length: f64) -> Vector {
    std::array::from_fn(|axis| from[axis] + length * direction[axis])
}

/// Spheres in a box without end, by the cells that they reach into.
struct Spheres {
    cells: Vec<Vec<Vector>>,
}

impl Spheres {
    /// Those that leave the share `gas` of the room to gas: overlapping ones cover 1 − e^(−number × volume).
    fn new(gas: f64, random: &mut fastrand::Rng) -> Self {
        let volume = 4.0 / 3.0 * std::f64::consts::PI;
        let room = (BOX * BOX * BOX) as f64;
        let count = (-(1.0 - gas).ln() * room / volume).round();
        let mut cells = vec![Vec::new(); BOX * BOX * BOX];
        for _ in 0..whole(count) {
            let centre: Vector = std::array::from_fn(|_| random.f64() * BOX as f64);
            let [x, y, z] = centre.map(|at| at.floor());
            for cell in
                (-1..=1).flat_map(|i| (-1..=1).flat_map(move |j| (-1..=1).map(move |k| [i, j, k])))
            {
                let from = along([x, y, z], cell.map(f64::from), 1.0);
                // The nearest point of the cell.
                let apart: f64 = (0..3)
                    .map(|axis| {
                        (centre[axis].clamp(from[axis], from[axis] + 1.0) - centre[axis]).powi(2)
                    })
                    .sum();
                if apart < 1.0 {
                    let shifted: Vector = std::array::from_fn(|axis| centre[axis] - from[axis]);
                    cells[index(from)].push(shifted);
                }
            }
        }
        Self { cells }
    }

    /// The centres, from the corner of the cell at `corner`, of the spheres that reach into it.
    fn near(&self, corner: Vector) -> &[Vector] {
        &self.cells[index(corner)]
    }

    fn is_gas(&self, point: Vector) -> bool {
        let corner = point.map(f64::floor);
        let own: Vector = std::array::from_fn(|axis| point[axis] - corner[axis]);
        self.near(corner).iter().any(|centre| {
            let from = along(own, *centre, -1.0);
            dot(from, from) < 1.0
        })
    }

    /// How far it is to the next wall between solid and gas, at most `most`, with the wall's normal; `None` where there is none.
    fn next_wall(
        &self,
        from: Vector,
        direction: Vector,
        in_gas: bool,
        most: f64,
    ) -> Option<(f64, Vector)> {
        let mut corner = from.map(f64::floor);
        let mut begun = 0.0;
        // Past how much of the way the union of spheres is known to be gas.
        let (mut gas_until, mut last) = (0.0, None);
        while begun < most {
            let next: Vector = std::array::from_fn(|axis| {
                let edge = corner[axis] + if direction[axis] > 0.0 { 1.0 } else { 0.0 };
                if direction[axis] == 0.0 {
                    f64::INFINITY
                } else {
                    (edge - from[axis]) / direction[axis]
                }
            });
            let axis = (0..3).fold(
                0,
                |best, axis| if next[axis] < next[best] { axis } else { best },
            );
            let end = next[axis].min(most);
            let spans = self.near(corner).iter().filter_map(|centre| {
                let centre: Vector = std::array::from_fn(|axis| corner[axis] + centre[axis]);
                let apart = along(centre, from, -1.0);
                let nearest = dot(apart, direction);
                let half = 1.0 - (dot(apart, apart) - nearest * nearest);
                (half > 0.0).then(|| (nearest - half.sqrt(), nearest + half.sqrt(), centre))
            });
            let normal = |at: f64, centre: Vector| along(along(from, direction, at), centre, -1.0);
            if in_gas {
                let mut spans: Vec<_> = spans.filter(|span| span.1 > gas_until).collect();
                spans.sort_by(|one, other| one.0.total_cmp(&other.0));
                for (near, far, centre) in spans {
                    if near <= gas_until && far > gas_until {
                        (gas_until, last) = (far, Some(centre));
                    }
                }
                if gas_until < end {
                    // Within this cell the gas ends; a ray that starts on a wall has it behind.
                    return Some((
                        gas_until,
                        last.map_or(direction, |centre| normal(gas_until, centre)),
                    ));
                }
            } else {
                let entered =
                    spans.filter(|span| span.0 > 0.0 && span.0 >= begun - STEP && span.0 <= end);
                if let Some((at, _, centre)) =
                    entered.min_by(|one, other| one.0.total_cmp(&other.0))
                {
                    return Some((at, normal(at, centre)));
                }
            }
            begun = next[axis];
            corner[axis] += direction[axis].signum();
        }
        None
    }
}

/// Index of the cell whose corner is here, the box repeating.
fn index(corner: Vector) -> usize {
    let side = BOX as f64;
    let [x, y, z] = corner.map(|at| whole(at.rem_euclid(side)).min(BOX - 1));
    (x * BOX + y) * BOX + z
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small whole numbers, not negative"
)]
fn whole(number: f64) -> usize {
    number as usize
}

/// The direction after a surface of this normal, and whether it was crossed, from index `from` to `to`.
fn meets(
    direction: Vector,
    normal: Vector,
    from: f64,
    to: f64,
    random: &mut fastrand::Rng,
) -> (Vector, bool) {
    let length = dot(normal, normal).sqrt();
    let side = -dot(direction, normal).signum() / length;
    let normal = normal.map(|part| part * side);
    let cosine = -dot(direction, normal);
    let ratio = from / to;
    let beyond = 1.0 - ratio * ratio * (1.0 - cosine * cosine);
    let refracted = beyond.max(0.0).sqrt();
    let mirrored = if beyond <= 0.0 {
        1.0
    } else {
        let perpendicular =
            ((from * cosine - to * refracted) / (from * cosine + to * refracted)).powi(2);
        let parallel =
            ((to * cosine - from * refracted) / (to * cosine + from * refracted)).powi(2);
        f64::midpoint(perpendicular, parallel)
    };
    let (new, crossed) = if random.f64() < mirrored {
        (along(direction, normal, 2.0 * cosine), false)
    } else {
        (
            std::array::from_fn(|axis| {
                ratio * direction[axis] + (ratio * cosine - refracted) * normal[axis]
            }),
            true,
        )
    };
    let length = dot(new, new).sqrt();
    (new.map(|part| part / length), crossed)
}

/// How far a ray that came back out ran in skin and in the solid of the foam, in radii.
#[derive(Clone, Copy)]
struct Way {
    skin: f64,
    solid: f64,
}

/// The rays that come back of those that fall straight down on the foam, bare or under `skin` radii of medium; those whose way
/// in its solid is longer than `longest` are lost.
fn traced(
    spheres: &Spheres,
    skin: Option<f64>,
    longest: f64,
    rays: u32,
    random: &mut fastrand::Rng,
) -> Vec<Way> {
    let mut back = Vec::new();
    for _ in 0..rays {
        let mut way = Way {
            skin: 0.0,
            solid: 0.0,
        };
        let mut at = [random.f64() * BOX as f64, random.f64() * BOX as f64, STEP];
        let mut direction = [0.0, 0.0, 1.0];
        let mut in_gas = skin.is_none() && spheres.is_gas(at);
        if !in_gas && random.f64() < ((N - 1.0) / (N + 1.0)).powi(2) {
            back.push(way);
            continue;
        }
        let mut in_skin = skin.is_some();
        let skin = if let Some(skin) = skin {
            at[2] = -skin;
            skin
        } else {
            0.0
        };
        let is_open = !in_skin;
        while way.solid < longest && way.skin < 400.0 * skin.max(1.0) {
            if in_skin {
                let up = direction[2] < 0.0;
                let length = if up {
                    (-skin - at[2]) / direction[2]
                } else {
                    -at[2] / direction[2]
                };
                way.skin += length;
                at = along(at, direction, length);
                if up {
                    at[2] = -skin;
                    let (new, crossed) = meets(direction, [0.0, 0.0, 1.0], N, 1.0, random);
                    if crossed {
                        back.push(way);
                        break;
                    }
                    direction = new;
                } else {
                    at[2] = STEP;
                    in_gas = spheres.is_gas(at);
                    in_skin = false;
                    if in_gas {
                        let (new, crossed) = meets(direction, [0.0, 0.0, 1.0], N, 1.0, random);
                        direction = new;
                        if !crossed {
                            (in_skin, in_gas, at[2]) = (true, false, 0.0);
                        }
                    }
                }
                continue;
            }
            let to_wall = if direction[2] < 0.0 {
                -at[2] / direction[2]
            } else {
                f64::INFINITY
            };
            let most = to_wall.min(longest);
            let met = spheres.next_wall(at, direction, in_gas, most);
            let length = met.map_or(most, |(length, _)| length);
            if !in_gas {
                way.solid += length;
            }
            at = along(at, direction, length);
            match met {
                Some((_, normal)) => {
                    let (from, to) = if in_gas { (1.0, N) } else { (N, 1.0) };
                    let (new, crossed) = meets(direction, normal, from, to, random);
                    direction = new;
                    in_gas ^= crossed;
                    at = along(at, direction, STEP);
                    // The step may have led through the mould's wall.
                    at[2] = at[2].max(STEP);
                }
                None if to_wall <= longest => {
                    at[2] = 0.0;
                    if is_open {
                        let (new, crossed) = if in_gas {
                            (direction, true)
                        } else {
                            meets(direction, [0.0, 0.0, 1.0], N, 1.0, random)
                        };
                        if crossed {
                            back.push(way);
                            break;
                        }
                        (direction, at[2]) = (new, STEP);
                        continue;
                    }
                    let crossed = if in_gas {
                        let (new, crossed) = meets(direction, [0.0, 0.0, 1.0], 1.0, N, random);
                        direction = new;
                        crossed
                    } else {
                        true
                    };
                    if crossed {
                        (in_skin, in_gas) = (true, false);
                    } else {
                        at[2] = STEP;
                    }
                }
                None => break,
            }
        }
    }
    back
}

/// The share (0–1) of `rays` that is seen where skin absorbs `in_skin` and solid `in_solid`, per radius.
fn seen(back: &[Way], rays: u32, in_skin: f64, in_solid: f64) -> f64 {
    let all = back
        .iter()
        .map(|way| (-in_skin * way.skin - in_solid * way.solid).exp());
    all.sum::<f64>() / f64::from(rays)
}

/// Absorptions of the foam's solid, per radius of a sphere.
const IN_SOLID: [f64; 5] = [0.003, 0.01, 0.03, 0.1, 0.3];
/// The skin cast over it, in radii.
const SKIN: f64 = 10.0;
/// Its absorptions, in optical depths straight through.
const DEPTHS: [f64; 3] = [0.0, 0.1, 0.4];

fn main() {
    let rays = std::env::args()
        .nth(1)
        .and_then(|text| text.parse().ok())
        .unwrap_or(20_000);
    println!("gas,solid_absorption,skin_depth,r");
    for gas in [0.67, 0.83] {
        let mut random = fastrand::Rng::with_seed(13);
        let spheres = Spheres::new(gas, &mut random);
        let longest = -LEAST.ln() / IN_SOLID[0];
        let bare = traced(&spheres, None, longest, rays, &mut random);
        let covered = traced(&spheres, Some(SKIN), longest, rays, &mut random);
        for in_solid in IN_SOLID {
            println!("{gas},{in_solid},,{:.4}", seen(&bare, rays, 0.0, in_solid));
            for depth in DEPTHS {
                println!(
                    "{gas},{in_solid},{depth},{:.4}",
                    seen(&covered, rays, depth / SKIN, in_solid)
                );
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RAYS: u32 = 4000;
    /// Three standard deviations of a share of so many rays.
    const TOLERANCE: f64 = 0.025;

    fn read(gas: f64, skin: Option<f64>, in_skin: f64) -> f64 {
        let mut random = fastrand::Rng::with_seed(13);
        let spheres = Spheres::new(gas, &mut random);
        let back = traced(&spheres, skin, 50.0, RAYS, &mut random);
        seen(&back, RAYS, in_skin, 0.3)
    }

    #[test]
    fn spheres_fill_what_they_are_to_fill() {
        let mut random = fastrand::Rng::with_seed(13);
        let spheres = Spheres::new(0.83, &mut random);
        let draws = 40_000;
        let gas = (0..draws)
            .filter(|_| spheres.is_gas(std::array::from_fn(|_| random.f64() * BOX as f64)))
            .count();
        assert!(
            (gas as f64 / f64::from(draws) - 0.83).abs() < 0.02,
            "{gas} of {draws}"
        );
    }

    #[test]
    fn without_gas_the_top_alone_mirrors() {
        assert!(
            (read(0.0, Some(1.0), 0.0) - 0.04).abs() < TOLERANCE,
            "Fresnel's share of the top"
        );
        assert!(
            (read(0.0, None, 0.0) - 0.04).abs() < TOLERANCE,
            "the same without a skin"
        );
    }

    #[test]
    fn of_gas_alone_two_flat_walls_mirror() {
        // By hand: 2 × 0.04 / 1.04, both walls of the layer and all that goes to and fro; and with a layer of optical depth
        // 0.5, 0.04 + 0.96² 0.04 e^(−1) / (1 − 0.04² e^(−1)).
        let clear = read(1.0 - 1e-9, Some(1.0), 0.0);
        assert!((clear - 0.076_92).abs() < TOLERANCE, "clear: {clear}");
        let dim = read(1.0 - 1e-9, Some(1.0), 0.5);
        assert!((dim - 0.053_57).abs() < TOLERANCE, "dim: {dim}");
        let bare = read(1.0 - 1e-9, None, 0.0);
        assert!(bare < 1e-3, "no wall, nothing mirrored: {bare}");
    }

    #[test]
    fn what_absorbs_nothing_sends_all_back() {
        let mut random = fastrand::Rng::with_seed(13);
        let spheres = Spheres::new(0.67, &mut random);
        let back = traced(&spheres, None, 2000.0, 400, &mut random);
        assert!(back.len() > 340, "{} of 400 came back in time", back.len());
    }
}
