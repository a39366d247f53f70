//! 45°/0° against single photons.
//!
//! By reciprocity (H. von Helmholtz 1867) what a beam at 45° shows at the normal is what a perpendicular beam shows at 45°,
//! and that can be counted: photons are sent straight down, scattered by the law of L. G. Henyey and J. L. Greenstein
//! (1941), mirrored and refracted by Fresnel's law at a smooth surface, and counted by the angle at which they leave. The
//! loop is that of L. Wang, S. L. Jacques, L. Zheng (1995), Computer Methods and Programs in Biomedicine 47, 131–146, and
//! shares nothing with the library. Seed 45.

use dropwise::colour::Spectrum;
use dropwise::optics::{
    Beneath, Coefficients, Layer, LayerModel, Medium, Specular, Surface, Transport,
};

const N: f64 = 1.5;
const ASYMMETRY: f64 = Transport::ASYMMETRY;

/// A film 1 mm thick.
#[derive(Clone, Copy)]
struct Film {
    absorption: f64,
    reduced_scattering: f64,
    /// Of what lies under it.
    backing: f64,
    /// Whether air is between.
    dry: bool,
}

#[derive(Default)]
struct Counted {
    /// Share that left, mirrored at no place but inside.
    all: f64,
    /// Radiance factor at 45°.
    at_45: f64,
    /// Share that left straight up: mirrored by the lower surface.
    straight: f64,
}

/// Share mirrored of light that meets the surface at this cosine inside.
fn mirrored(cosine: f64) -> f64 {
    let sine = N * (1.0 - cosine * cosine).sqrt();
    if sine >= 1.0 {
        return 1.0;
    }
    let outside = (1.0 - sine * sine).sqrt();
    let perpendicular = ((N * cosine - outside) / (N * cosine + outside)).powi(2);
    let parallel = ((cosine - N * outside) / (cosine + N * outside)).powi(2);
    f64::midpoint(perpendicular, parallel)
}

/// The cosine in air of light of this cosine inside.
fn refracted(cosine: f64) -> f64 {
    (1.0 - N * N * (1.0 - cosine * cosine)).max(0.0).sqrt()
}

/// The cosine inside of light of this cosine in air.
fn entering(cosine: f64) -> f64 {
    (1.0 - (1.0 - cosine * cosine) / (N * N)).sqrt()
}

/// The cosine, upward positive, after scattering once.
fn scattered(cosine: f64, random: &mut fastrand::Rng) -> f64 {
    let g = ASYMMETRY;
    let term = (1.0 - g * g) / (1.0 - g + 2.0 * g * random.f64());
    let turn = (1.0 + g * g - term * term) / (2.0 * g);
    let around = (std::f64::consts::TAU * random.f64()).cos();
    let both = (1.0 - turn * turn).max(0.0) * (1.0 - cosine * cosine).max(0.0);
    (turn * cosine + both.sqrt() * around).clamp(-1.0, 1.0)
}

fn traced(film: Film, photons: u32) -> Counted {
    /// Half the width in cosine of the ring at 45°.
    const HALF: f64 = 0.06;
    let mut random = fastrand::Rng::with_seed(45);
    let scattering = film.reduced_scattering / (1.0 - ASYMMETRY);
    let (extinction, mut counted) = (film.absorption + scattering, Counted::default());
    let share = (1.0 - mirrored(1.0)) / f64::from(photons);
    for _ in 0..photons {
        let (mut height, mut cosine, mut weight, mut straight) = (1.0, -1.0, share, true);
        while weight > 1e-6 * share {
            let free = -(1.0 - random.f64()).ln() / extinction;
            let to_wall = if cosine < 0.0 { height } else { 1.0 - height } / f64::abs(cosine);
            if free < to_wall {
                height += cosine * free;
                weight *= scattering / extinction;
                cosine = scattered(cosine, &mut random);
                straight = false;
            } else if cosine > 0.0 {
                height = 1.0;
                if random.f64() >= mirrored(cosine) {
                    let outside = refracted(cosine);
                    counted.all += weight;
                    if straight {
                        counted.straight += weight;
                    } else if (outside - 0.5_f64.sqrt()).abs() < HALF {
                        counted.at_45 += weight / (4.0 * HALF * outside);
                    }
                    break;
                }
                cosine = -cosine;
            } else {
                height = 0.0;
                if film.dry && random.f64() < mirrored(-cosine) {
                    cosine = -cosine;
                    continue;
                }
                // Lambert's law, and through the lower surface as often as it takes.
                straight = false;
                loop {
                    weight *= film.backing;
                    let up = random.f64().sqrt();
                    if !film.dry {
                        cosine = up;
                        break;
                    }
                    let inside = entering(up);
                    if random.f64() >= mirrored(inside) {
                        cosine = inside;
                        break;
                    }
                    if weight <= 1e-6 * share {
                        break;
                    }
                }
            }
        }
    }
    counted
}

fn read(film: Film, specular: Specular) -> f64 {
    let coefficients = Coefficients {
        k: Spectrum::constant(2.0 * film.absorption),
        s: Spectrum::constant(0.75 * film.reduced_scattering),
    };
    let layer = Layer {
        medium: Medium::solid(coefficients),
        thickness_mm: 1.0,
    };
    let backing = Spectrum::constant(film.backing);
    let beneath = if film.dry {
        Beneath::Laid(backing)
    } else {
        Beneath::Backing(backing)
    };
    let surface = Surface::new(N, specular).expect("in range");
    Transport.reading(&[layer], &beneath, &surface)[0]
}

#[test]
fn films_of_skin_read_at_45_as_photons_say() {
    for (absorption, reduced_scattering, backing) in
        [(0.3, 3.0, 0.5), (0.1, 2.0, 0.9), (0.8, 8.0, 0.3)]
    {
        let film = Film {
            absorption,
            reduced_scattering,
            backing,
            dry: false,
        };
        let photons = traced(film, 400_000);
        let (trap, at_45) = (
            read(film, Specular::Excluded),
            read(film, Specular::FortyFive),
        );
        assert!(
            (photons.all / trap - 1.0).abs() < 0.01,
            "{} and {trap}",
            photons.all
        );
        assert!(
            (photons.at_45 / at_45 - 1.0).abs() < 0.02,
            "{} and {at_45}",
            photons.at_45
        );
    }
}

#[test]
fn what_a_dry_film_mirrors_below_is_no_body_colour() {
    let film = Film {
        absorption: 0.05,
        reduced_scattering: 0.1,
        backing: 0.05,
        dry: true,
    };
    let photons = traced(film, 400_000);
    let (included, trap) = (
        read(film, Specular::Included),
        read(film, Specular::Excluded),
    );
    let at_45 = read(film, Specular::FortyFive);
    assert!((photons.all + 0.04 - included).abs() < 0.004, "{included}");
    assert!(
        (photons.all - photons.straight - trap).abs() < 0.004,
        "{trap}"
    );
    assert!((photons.at_45 - at_45).abs() < 0.006, "{at_45}");
    assert!(
        photons.straight > 0.01,
        "the lower surface mirrors: {}",
        photons.straight
    );
}
