//! A part's file as a part.

use std::time::Duration;

use jiff::civil::Date;
use toml_edit::{Document, Item};

use super::layout::{self, CHARTS, FORMAT};
use crate::book::keys::{Keys, number, shown, syntax};
use crate::book::number::Number;
use crate::colour::{Illuminant, Spectrum};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{
    Amount, Colorant, Grams, LargestPots, Millimetres, Mix, Pigment, Portion, Poured, Shelf,
};
use crate::materials::{Stock, whole_number};
use crate::recipe::{
    BenchCup, BenchFate, Beneath, Event, KeptCup, KeptRecipe, KeptStock, Part, Request,
    SearchedCup, WantedCup,
};
use crate::search::Limits;
use crate::tone::{Photographed, Target, TargetDocument, ToneDocument, ToneRole};

/// What of a part must be on the shelf.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::book) enum Needed {
    /// Nothing: it is read, listed, changed.
    Nothing,
    /// What its recipe pours.
    Recipe,
    /// What may be looked for anew: its bases, its pigments.
    Order,
}

/// The part called `name` that `text` holds.
///
/// # Errors
/// The first thing that is wrong, with line and column.
pub(super) fn part(name: &str, text: &str, shelf: &Shelf, needed: Needed) -> Result<Part> {
    let text = text.trim_start_matches('\u{feff}');
    let document = Document::parse(text).map_err(|error| syntax(text, &error))?;
    let keys = Keys::of(text, &document);
    check_format(&keys)?;
    keys.check_spelling(&layout::TOP)?;
    let table = |key, name| {
        let table = keys.table(key, name)?;
        table.ok_or_else(|| Error::input(format!("[{name}] is missing")).mend(MENDED_FROM_A_COPY))
    };
    let of_target = table("target", "target")?;
    let of_build = table("build", "build")?;
    let of_limits = keys.table("limits", "limits")?;
    let of_recipe = table("recipe", "recipe")?;
    let (recipe, cups) = recipe(&of_recipe)?;
    let of_bench = keys.table("bench", "bench")?;
    let bench = of_bench.as_ref().map(bench).transpose()?;
    let mut request = request(&of_build, recipe.date)?;
    if let Some(keys) = &of_limits {
        limits(keys, &mut request)?;
    }
    match needed {
        Needed::Nothing => {}
        Needed::Recipe => {
            let stock = recipe.stock.as_ref().map(|kept| &kept.stock);
            for (keys, cup) in &cups {
                check_poured(keys, &cup.poured, shelf, stock)?;
            }
            if let (Some(keys), Some(cup)) = (&of_bench, &bench) {
                check_poured(keys, &cup.poured, shelf, stock)?;
            }
            check_bases(&of_build, shelf)?;
            check_underlay(&of_build, &request, shelf)?;
        }
        Needed::Order => check_order(&of_build, of_limits.as_ref(), &request, shelf)?,
    }
    Ok(Part {
        name: name.to_owned(),
        title: keys.word("title", name)?.to_owned(),
        target: target(&of_target)?,
        target_from: of_target.word("from", "")?.to_owned(),
        target_date: date(&of_target, "date")?.unwrap_or(recipe.date),
        request,
        recipe,
        bench,
        castings: texts(&keys, "castings", "S012")?,
        history: (keys.tables("history", "history")?.iter())
            .map(event)
            .collect::<Result<_>>()?,
    })
}

const MENDED_FROM_A_COPY: &str =
    "bring it back from a copy of the file; what another part has there is a pattern";

fn check_format(keys: &Keys<'_>) -> Result<()> {
    let Some(item) = keys.item("format") else {
        return Ok(());
    };
    let error = match item.as_integer() {
        Some(FORMAT) => return Ok(()),
        Some(newer) if newer > FORMAT => Error::input(format!(
            "this part was written by a newer version of dropwise: it has format {newer}, and this version reads \
             format {FORMAT}"
        ))
        .mend("update dropwise"),
        _ => Error::input(format!("format is {}; expected {FORMAT}", shown(item))),
    };
    Err(keys.fault("format", error))
}

fn target(keys: &Keys<'_>) -> Result<Target> {
    keys.check_spelling(&layout::TARGET)?;
    let tones = keys.tables("tones", "target.tones")?;
    let tones = tones.iter().map(|keys| {
        keys.check_spelling(&layout::TONE)?;
        let document = ToneDocument {
            l: keys.needed_number(&layout::L)?,
            a: keys.needed_number(&layout::A)?,
            b: keys.needed_number(&layout::B)?,
            share: keys.number(&layout::SHARE, 0.0)?,
            role: match keys.word("role", "other")? {
                "other" => ToneRole::Other,
                word => word.parse().map_err(|error| keys.fault("role", error))?,
            },
        };
        Ok(document)
    });
    let typed = |word: &str| serde_json::Value::from(word);
    let of_word = |key: &str| keys.optional_word(key);
    let unknown = |key: &str, known: &str| {
        let finding = format!("{key} is none of {known}");
        keys.fault(key, Error::input(finding))
    };
    let document = TargetDocument {
        l: keys.needed_number(&layout::L)?,
        a: keys.needed_number(&layout::A)?,
        b: keys.needed_number(&layout::B)?,
        l_sd: keys.number(&layout::L_SD, 0.0)?,
        a_sd: keys.number(&layout::A_SD, 0.0)?,
        b_sd: keys.number(&layout::B_SD, 0.0)?,
        illuminant: keys.word("illuminant", "D65")?.to_owned(),
        observer: keys.word("observer", "10")?.to_owned(),
        skin_angle: None,
        skin_class: None,
        tones: tones.collect::<Result<_>>()?,
        r: spectrum(keys)?,
        r_from: match of_word("r_from")? {
            None => <_>::default(),
            Some(word) => serde_json::from_value(typed(word))
                .map_err(|_| unknown("r_from", "reading, skin, smooth"))?,
        },
        seen_by: match of_word("seen_by")? {
            None => None,
            Some(word) => serde_json::from_value(typed(word))
                .map_err(|_| unknown("seen_by", "contact, non-contact"))?,
        },
        specular: of_word("specular")?.map(str::to_owned),
        aperture_mm: keys.optional_number(&layout::APERTURE_MM)?,
        contrast_ratio: keys.optional_number(&layout::CONTRAST_RATIO)?,
        tp_ab: keys.optional_number(&layout::TP_AB)?,
        tp_00: keys.optional_number(&layout::TP_00)?,
        under: <_>::default(),
        published: None,
        notes: texts(keys, "notes", "a sentence")?,
        charts: match of_word(CHARTS)? {
            None => Vec::new(),
            Some(json) => serde_json::from_str(json).map_err(|error| {
                let error = Error::input(format!("{CHARTS} is not what was written: {error}"));
                keys.fault(CHARTS, error.mend("take the key out"))
            })?,
        },
        photographs: photographs(keys)?,
    };
    // What no single key is at fault for stands at the colour.
    document
        .into_target()
        .map_err(|error| keys.fault(layout::L.name, error))
}

/// How the tone was read off photographs.
fn photographs(keys: &Keys<'_>) -> Result<Vec<Photographed>> {
    let tables = keys.tables(layout::PHOTOGRAPHS, "target.photographs")?;
    let read = tables.iter().map(|keys| {
        keys.check_spelling(&layout::PHOTOGRAPHED)?;
        let word = |key| Ok(keys.optional_word(key)?.map(str::to_owned));
        Ok(Photographed {
            file: keys.word("file", "")?.to_owned(),
            region: word("region")?,
            card: word("card")?,
            card_lab: word("card_lab")?,
            chart: word("chart")?,
            chart_values: word("chart_values")?,
        })
    });
    read.collect()
}

/// The reflectance at `r`, 36 numbers from 380 nm to 730 nm.
fn spectrum(keys: &Keys<'_>) -> Result<Option<Spectrum>> {
    const BANDS: usize = 36;
    let values = keys.list(layout::R.name, layout::R.example, |value| {
        Some(number(value).map_or_else(
            || Err(Error::input("r holds what is no number")),
            |value| layout::R.within(value, value),
        ))
    })?;
    let Some(values) = values else {
        return Ok(None);
    };
    if values.len() != BANDS {
        let finding = format!(
            "r has {} numbers; expected {BANDS}, from 380 nm to 730 nm by 10",
            values.len()
        );
        let mend = "take the key r out, and it is worked out anew";
        return Err(keys.fault(layout::R.name, Error::input(finding).mend(mend)));
    }
    Ok(Some(Spectrum::from_fn(|band| values[band])))
}

fn request(keys: &Keys<'_>, day: Date) -> Result<Request> {
    keys.check_spelling(&layout::BUILD)?;
    let cup = |base: &str, mass: f64| -> Result<WantedCup> {
        Ok(WantedCup {
            base: keys.optional_word(base)?.map(str::to_owned),
            base_mass: Grams(mass),
        })
    };
    let beneath = match (
        keys.optional_number(&layout::FOAM_G)?,
        keys.optional_word("backing")?,
    ) {
        (Some(_), Some(_)) => {
            let error = Error::input("foam and backing are both there; expected one of them");
            return Err(keys.fault(
                "backing",
                error.mend("leave out what the skin does not lie on"),
            ));
        }
        (Some(mass), None) => {
            let cup = cup("foam", mass)?;
            match keys.parsed::<Mix>("foam_mix")? {
                Some(mix) => Beneath::PouredFoam { cup, mix },
                None => Beneath::Foam {
                    cup,
                    at_the_tone: keys.flag("foam_at_tone")?,
                },
            }
        }
        (None, Some(name)) => Beneath::Backing(name.to_owned()),
        (None, None) => {
            let error =
                Error::input("nothing lies beneath the skin: neither foam_g nor backing is there");
            return Err(keys.here(error.mend("write backing = \"white card\", or foam_g = 300.0")));
        }
    };
    let mut request = Request::new(
        cup("base", keys.needed_number(&layout::BASE_G)?)?,
        beneath,
        day,
    );
    request.thickness = Millimetres(keys.number(&layout::THICKNESS_MM, request.thickness.0)?);
    request.max_thickness = keys
        .optional_number(&layout::MAX_THICKNESS_MM)?
        .map(Millimetres);
    request.hide_within = keys.optional_number(&layout::HIDE_WITHIN)?;
    request.fibre = Grams(keys.number(&layout::FIBRE_G, 0.0)?);
    request.one_tint = keys.flag("one_tint")?;
    request.stock = keys.optional_word("stock")?.map(str::to_owned);
    request.largest_pots = LargestPots {
        any: keys.optional_number(&layout::LARGEST_POT_G)?.map(Grams),
        foam: keys
            .optional_number(&layout::LARGEST_FOAM_POT_G)?
            .map(Grams),
    };
    if let Some(mass) = keys.optional_number(&layout::PAINT_G)? {
        let dry_thickness = Millimetres(keys.number(&layout::PAINT_MM, 0.03)?);
        request.paint = Some((cup("paint", mass)?, dry_thickness));
    }
    if let Some(tones) = keys.words("paint_tones", "flush")? {
        request.paint_tones = tones;
    }
    Ok(request)
}

fn limits(keys: &Keys<'_>, request: &mut Request) -> Result<()> {
    keys.check_spelling(&layout::LIMITS)?;
    request.pigments = keys.words("pigments", "iron oxide red")?;
    let open: Vec<Colorant> = keys.words("with", "iron oxide red")?.unwrap_or_default();
    let settled: Mix = keys.parsed("with_drops")?.unwrap_or_default();
    let mut with: Vec<(Colorant, Option<u32>)> =
        open.into_iter().map(|colorant| (colorant, None)).collect();
    for (colorant, amount) in settled.entries() {
        let Amount::Drops(drops) = amount else {
            let error = Error::input(format!("with_drops weighs `{colorant}`; expected drops"));
            return Err(keys.fault("with_drops", error));
        };
        with.push((colorant.clone(), Some(whole_number(*drops))));
    }
    request.with = with;
    request.without = texts(keys, "without", "umber")?;
    let lights: Option<Vec<Illuminant>> = keys.words("illuminants", "D65")?;
    request.lights = lights.into_iter().flatten().map(Into::into).collect();
    request.tolerance = keys.optional_number(&layout::TOLERANCE)?;
    let usual = Limits::default();
    let window = (
        keys.optional_number(&layout::MIN_CONTRAST)?,
        keys.optional_number(&layout::MAX_CONTRAST)?,
    );
    let time_limit_s = keys.optional_number(&layout::TIME_LIMIT_S)?;
    request.limits = Limits {
        max_drops: count(keys, &layout::MAX_DROPS)?,
        max_total_drops: count(keys, &layout::MAX_TOTAL_DROPS)?,
        max_pigments: count(keys, &layout::MAX_PIGMENTS)?
            .map_or(usual.max_pigments, |most| most as usize),
        within: keys.optional_number(&layout::WITHIN)?,
        // No span of time is as long as infinity.
        time_limit: time_limit_s.map_or(usual.time_limit, |seconds| {
            Duration::try_from_secs_f64(seconds).ok()
        }),
        contrast_ratio: (window != (None, None))
            .then(|| (window.0.unwrap_or(0.0), window.1.unwrap_or(f64::INFINITY))),
        ..usual
    };
    Ok(())
}

/// Each cup that is poured, with its keys.
type Cups<'text> = Vec<(Keys<'text>, KeptCup)>;

fn recipe<'text>(keys: &Keys<'text>) -> Result<(KeptRecipe, Cups<'text>)> {
    keys.check_spelling(&layout::RECIPE)?;
    let mut cups: Cups<'text> = Vec::new();
    let mut read = |of_cup: Keys<'text>| -> Result<KeptCup> {
        let kept = cup(&of_cup)?;
        cups.push((of_cup, kept.clone()));
        Ok(kept)
    };
    let skin = keys.table("skin", "recipe.skin")?;
    let skin = skin.ok_or_else(|| {
        let error = Error::input("[recipe.skin] is missing");
        keys.here(error.mend(MENDED_FROM_A_COPY))
    })?;
    let skin = read(skin)?;
    let foam = keys.table("foam", "recipe.foam")?;
    let foam = foam.map(&mut read).transpose()?;
    let mut paints = Vec::new();
    for of_paint in keys.tables("paints", "recipe.paints")? {
        let tone = of_paint.parsed("tone")?;
        let tone = tone.ok_or_else(|| of_paint.lacks("tone", "\"flush\""))?;
        paints.push((tone, read(of_paint)?));
    }
    let date = date(keys, "date")?.ok_or_else(|| keys.lacks("date", "2026-03-14"))?;
    let of_stock = keys.table("stock", "recipe.stock")?;
    let stock = of_stock.map(|keys| stock(&keys)).transpose()?;
    let recipe = KeptRecipe {
        date,
        skin,
        foam,
        paints,
        stock,
    };
    Ok((recipe, cups))
}

fn cup(keys: &Keys<'_>) -> Result<KeptCup> {
    keys.check_spelling(&layout::CUP)?;
    let base = keys.optional_word("base")?;
    let base = base.ok_or_else(|| keys.lacks("base", "\"clear skin\""))?;
    let mut cup = KeptCup::new(Poured {
        base: base.to_owned(),
        base_mass: Grams(keys.needed_number(&layout::BASE_G)?),
        mix: keys.parsed("mix")?.unwrap_or_default(),
    });
    cup.pots = count(keys, &layout::POTS)?.unwrap_or(1);
    cup.lighter = keys.number(&layout::LIGHTER, 0.0)?;
    let said = (
        keys.optional_number(&layout::DELTA_E)?,
        keys.optional_number(&layout::GAP)?,
        keys.optional_number(&layout::NEAREST_DELTA_E)?,
        keys.optional_number(&layout::EFFORT)?,
    );
    let (proven, effort_gap) = (
        keys.flag("proven")?,
        keys.optional_number(&layout::EFFORT_GAP)?,
    );
    if let (Some(delta_e), Some(gap), Some(nearest_delta_e), Some(effort)) = said {
        cup.search = Some(SearchedCup {
            delta_e,
            gap,
            proven,
            nearest_delta_e,
            effort,
            effort_gap,
        });
    }
    Ok(cup)
}

fn bench(keys: &Keys<'_>) -> Result<BenchCup> {
    keys.check_spelling(&layout::BENCH)?;
    let base = keys.optional_word("base")?;
    let base = base.ok_or_else(|| keys.lacks("base", "\"clear skin\""))?;
    let poured = |mass: f64, mix: Option<Mix>| Poured {
        base: base.to_owned(),
        base_mass: Grams(mass),
        mix: mix.unwrap_or_default(),
    };
    let poured_now = poured(keys.needed_number(&layout::BASE_G)?, keys.parsed("mix")?);
    let before = (keys.optional_number(&layout::BEFORE_G)?).unwrap_or(poured_now.base_mass.0);
    Ok(BenchCup {
        date: date(keys, "date")?.ok_or_else(|| keys.lacks("date", "2026-03-14"))?,
        by: keys.word("by", "")?.to_owned(),
        before: poured(before, keys.parsed("mix_before")?),
        poured: poured_now,
        fate: match keys.optional_word("logged")? {
            Some(swatch) => BenchFate::Logged(swatch.to_owned()),
            None if keys.flag("poured_away")? => BenchFate::PouredAway,
            None => BenchFate::ToBeLogged,
        },
    })
}

fn stock(keys: &Keys<'_>) -> Result<KeptStock> {
    keys.check_spelling(&layout::STOCK)?;
    let mix: Mix = (keys.parsed("mix")?).ok_or_else(|| keys.lacks("mix", "\"umber 100 g\""))?;
    let grams = mix.entries().iter().map(|(colorant, amount)| match amount {
        Amount::Mass(mass) if colorant.let_down == 1.0 => Ok((colorant.pigment.clone(), *mass)),
        _ => Err(keys.fault(
            "mix",
            Error::input(format!(
                "`{colorant}` in the stock is not weighed from its bottle"
            ))
            .mend("write grams of pigments, as in umber 40 g"),
        )),
    });
    let grams: Vec<(String, Grams)> = grams.collect::<Result<_>>()?;
    let name = keys.optional_word("name")?.unwrap_or(Pigment::STOCK);
    let drop_mass = keys.optional_number(&layout::DROP_G)?.map(Grams);
    Ok(KeptStock {
        stock: Stock {
            name: name.to_owned(),
            grams,
            drop_mass,
        },
        skin_free_delta_e: keys.number(&layout::SKIN_FREE_DELTA_E, 0.0)?,
        foam_free_delta_e: keys.optional_number(&layout::FOAM_FREE_DELTA_E)?,
    })
}

fn event(keys: &Keys<'_>) -> Result<Event> {
    keys.check_spelling(&layout::EVENT)?;
    let date = date(keys, "date")?.ok_or_else(|| keys.lacks("date", "2026-03-14"))?;
    let what = keys.parsed("what")?;
    let mut event = Event::new(date, what.ok_or_else(|| keys.lacks("what", "\"cast\""))?);
    event.swatch = keys.optional_word("swatch")?.map(str::to_owned);
    event.note = keys.word("note", "")?.to_owned();
    event.was = texts(keys, "was", "skin: 600 g clear skin; umber 2")?;
    Ok(event)
}

/// layout::A day at `key`: a date of TOML's, or one in quotes.
fn date(keys: &Keys<'_>, key: &str) -> Result<Option<Date>> {
    let Some(item) = keys.item(key) else {
        return Ok(None);
    };
    let text = match item {
        Item::Value(toml_edit::Value::Datetime(date)) => date.value().to_string(),
        _ => keys.word(key, "")?.to_owned(),
    };
    let day = text.parse().map(Some);
    day.map_err(|_| {
        let error = Error::input(format!("{key} is {}; expected a day", shown(item)));
        keys.fault(
            key,
            error.mend("write year, month and day, as in 2026-03-14"),
        )
    })
}

/// The texts in the list at `key`; none where there is no list.
fn texts(keys: &Keys<'_>, key: &str, example: &str) -> Result<Vec<String>> {
    let example = format!("\"{example}\"");
    let texts = keys.list(key, &example, |value| Some(Ok(value.as_str()?.to_owned())))?;
    Ok(texts.unwrap_or_default())
}

/// The whole number at the key of that name, if there is one.
fn count(keys: &Keys<'_>, key: &Number) -> Result<Option<u32>> {
    let Some(value) = keys.optional_number(key)? else {
        return Ok(None);
    };
    if value.fract() != 0.0 {
        let error = Error::input(format!("{} is {value}; expected a whole number", key.name));
        return Err(keys.fault(key.name, error));
    }
    Ok(Some(whole_number(value)))
}

/// Refuses what a cup, `poured` so, holds and the shelf does not.
fn check_poured(
    keys: &Keys<'_>,
    poured: &Poured,
    shelf: &Shelf,
    stock: Option<&Stock>,
) -> Result<()> {
    (shelf.base(&poured.base)).map_err(|error| gone(keys, "base", error, "bases.csv"))?;
    for (colorant, amount) in poured.mix.entries() {
        let of_stock = stock.filter(|stock| colorant.pigment == stock.name);
        let looked_up = match of_stock {
            Some(stock) if shelf.stock(&stock.name).is_none() => stock.pigment(shelf).map(|_| ()),
            Some(_) => Ok(()),
            None => Portion::new(shelf, colorant, *amount).map(|_| ()),
        };
        looked_up.map_err(|error| gone(keys, "mix", error, "pigments.csv"))?;
    }
    Ok(())
}

/// What was on the shelf when the part was kept, and has left it.
fn gone(keys: &Keys<'_>, key: &str, error: Error, table: &str) -> Error {
    let advice = error
        .advice()
        .map_or_else(String::new, |advice| format!("{advice}; "));
    let mend = Mend::from(format!(
        "{advice}mend it here, put its row back into {table}, or work the part out again with "
    ))
    .set(Setting::Part)
    .and(" and ")
    .set(Setting::Replace);
    keys.fault(key, error.mend(mend))
}

/// Refuses bases that are asked for by name and not on the shelf.
fn check_bases(keys: &Keys<'_>, shelf: &Shelf) -> Result<()> {
    for base in ["base", "foam", "paint"] {
        if let Some(name) = keys.optional_word(base)? {
            let found = shelf.base(name).map(|_| ());
            found.map_err(|error| unfit(keys, base, error, "bases.csv"))?;
        }
    }
    Ok(())
}

/// Refuses a foam or a backing beneath the skin, or a kind of paint, that the shelf does not hold.
fn check_underlay(keys: &Keys<'_>, request: &Request, shelf: &Shelf) -> Result<()> {
    match &request.beneath {
        Beneath::Backing(name) => shelf
            .backing(name)
            .map(|_| ())
            .map_err(|error| unfit(keys, "backing", error, "backings.csv")),
        Beneath::PouredFoam { mix, .. } => {
            mix.entries().iter().try_for_each(|(colorant, amount)| {
                let portion = Portion::new(shelf, colorant, *amount).map(|_| ());
                portion.map_err(|error| unfit(keys, "foam_mix", error, "pigments.csv"))
            })
        }
        Beneath::Foam { .. } | Beneath::Read(_) => Ok(()),
    }
}

/// Refuses what is asked for and is not on the shelf.
fn check_order(
    keys: &Keys<'_>,
    limits: Option<&Keys<'_>>,
    request: &Request,
    shelf: &Shelf,
) -> Result<()> {
    check_bases(keys, shelf)?;
    check_underlay(keys, request, shelf)?;
    let Some(keys) = limits else {
        return Ok(());
    };
    let offered = (request.pigments.iter().flatten()).map(|each| ("pigments", &each.pigment));
    let with = request.with.iter().map(|(colorant, drops)| {
        let key = if drops.is_some() {
            "with_drops"
        } else {
            "with"
        };
        (key, &colorant.pigment)
    });
    let without = request.without.iter().map(|name| ("without", name));
    for (key, name) in offered.chain(with).chain(without) {
        let found = shelf.pigment(name).map(|_| ());
        found.map_err(|error| unfit(keys, key, error, "pigments.csv"))?;
    }
    Ok(())
}

/// What is asked for and has left the shelf.
fn unfit(keys: &Keys<'_>, key: &str, error: Error, table: &str) -> Error {
    let advice = error
        .advice()
        .map_or_else(String::new, |advice| format!("{advice}; "));
    let mend = format!("{advice}name another here, or put its row back into {table}");
    keys.fault(key, error.mend(mend))
}
