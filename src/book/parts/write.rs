//! A part as its file: set down anew, or into the file that stands there, whose comments, order and other keys are kept.

use jiff::civil::Date;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use super::layout;
use crate::book::keys::{number, syntax};
use crate::error::Result;
use crate::recipe::{
    BenchCup, BenchFate, Beneath, Event, KeptCup, KeptRecipe, Part, Request, WantedCup,
};
use crate::tone::{Photographed, Target, TargetDocument, ToneDocument};

/// The text of `part`, in the place of `old`, which is its file as it stands, if there is one.
///
/// # Errors
/// layout::A file that is no TOML any more; a target that no document holds.
pub(super) fn text(part: &Part, old: Option<&str>) -> Result<String> {
    let new = document(part)?;
    let Some(old) = old else {
        return Ok(new.to_string());
    };
    let mut kept: DocumentMut = old.parse().map_err(|error| syntax(old, &error))?;
    merge(kept.as_table_mut(), new.as_table(), &layout::TOP);
    Ok(kept.to_string())
}

/// Puts what `new` says into `old`: values that are alike stay as they are written, those of `known` keys that `new` has not
/// are taken out, and all else is left.
fn merge(old: &mut dyn TableLike, new: &dyn TableLike, known: &[&str]) {
    for key in known.iter().filter(|key| new.get(key).is_none()) {
        old.remove(key);
    }
    for (key, item) in new.iter() {
        match old.get_mut(key) {
            None => {
                old.insert(key, item.clone());
            }
            Some(there) => merge_item(key, there, item),
        }
    }
}

fn merge_item(key: &str, there: &mut Item, item: &Item) {
    if let (Item::ArrayOfTables(old), Item::ArrayOfTables(new)) = (&mut *there, item) {
        while old.len() > new.len() {
            old.remove(new.len());
        }
        for (index, table) in new.iter().enumerate() {
            match old.get_mut(index) {
                Some(old) => merge(old, table, keys_of(key)),
                None => old.push(table.clone()),
            }
        }
    } else if let (Some(old), Some(new)) = (there.as_table_like_mut(), item.as_table_like()) {
        merge(old, new, keys_of(key));
    } else if let (Some(old), Some(new)) = (there.as_value(), item.as_value()) {
        if !is_alike(old, new) {
            let mut value = new.clone();
            // Space before it, a comment after it.
            *value.decor_mut() = old.decor().clone();
            *there = Item::Value(value);
        }
    } else {
        *there = item.clone();
    }
}

/// The keys that are known in the table at `key`.
fn keys_of(key: &str) -> &'static [&'static str] {
    match key {
        "target" => &layout::TARGET,
        "build" => &layout::BUILD,
        "limits" => &layout::LIMITS,
        "recipe" => &layout::RECIPE,
        "skin" | "foam" | "paints" => &layout::CUP,
        "bench" => &layout::BENCH,
        "stock" => &layout::STOCK,
        "history" => &layout::EVENT,
        _ => &[],
    }
}

/// Whether both say the same, however they are written.
fn is_alike(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Array(one), Value::Array(other)) => {
            one.len() == other.len()
                && one
                    .iter()
                    .zip(other)
                    .all(|(one, other)| is_alike(one, other))
        }
        (Value::InlineTable(one), Value::InlineTable(other)) => {
            one.len() == other.len()
                && one
                    .iter()
                    .all(|(key, value)| other.get(key).is_some_and(|other| is_alike(value, other)))
        }
        (Value::String(one), Value::String(other)) => one.value() == other.value(),
        (Value::Boolean(one), Value::Boolean(other)) => one.value() == other.value(),
        (Value::Datetime(one), Value::Datetime(other)) => one.value() == other.value(),
        // layout::A day may stand in quotes.
        (Value::String(one), Value::Datetime(other)) => *one.value() == other.value().to_string(),
        _ => number(one).is_some_and(|value| number(other) == Some(value)),
    }
}

fn document(part: &Part) -> Result<DocumentMut> {
    let mut document = DocumentMut::new();
    let top = document.as_table_mut();
    top.insert("format", layout::FORMAT.into());
    top.insert("title", word(&part.title));
    top.insert("castings", words(&part.castings));
    if let Some(mut key) = top.key_mut("format") {
        key.leaf_decor_mut().set_prefix(HEAD);
    }
    top.insert("target", target(part)?);
    top.insert("build", build(&part.request));
    top.insert("limits", limits(&part.request));
    top.insert("recipe", recipe(&part.recipe));
    if let Some(cup) = &part.bench {
        top.insert("bench", bench(cup));
    }
    let mut history = ArrayOfTables::new();
    part.history
        .iter()
        .for_each(|each| history.push(event(each)));
    top.insert("history", Item::ArrayOfTables(history));
    Ok(document)
}

const HEAD: &str = "\
# A part, kept by name: the file's name is the part's. It may be edited by hand, and is checked when it is next read;
# comments and keys of your own stay. Masses are in g, thicknesses in mm, colours are CIELAB, differences ΔE00.
";

/// layout::A table with `comment` before it.
fn table(comment: &str) -> Table {
    let mut table = Table::new();
    let comment = if comment.is_empty() {
        "\n".to_owned()
    } else {
        format!("\n# {comment}\n")
    };
    table.decor_mut().set_prefix(comment);
    table
}

fn word(text: &str) -> Item {
    toml_edit::value(text)
}

fn words<T: ToString>(all: &[T]) -> Item {
    Item::Value(all.iter().map(T::to_string).collect::<Array>().into())
}

fn day(date: Date) -> Item {
    let text = date.to_string();
    match text.parse::<toml_edit::Datetime>() {
        Ok(date) => toml_edit::value(date),
        // Of years that TOML has not.
        Err(_) => word(&text),
    }
}

/// Puts what is there of `value` at `key`.
fn put(table: &mut Table, key: &str, value: Option<impl Into<Value>>) {
    if let Some(value) = value {
        table.insert(key, toml_edit::value(value));
    }
}

fn target(part: &Part) -> Result<Item> {
    let target = &part.target;
    let document = TargetDocument::new(target, &[]);
    let mut keys = table("What is to be matched.");
    keys.insert("from", word(&part.target_from));
    keys.insert("date", day(part.target_date));
    let numbers = [
        (&layout::L, document.l),
        (&layout::A, document.a),
        (&layout::B, document.b),
        (&layout::L_SD, document.l_sd),
        (&layout::A_SD, document.a_sd),
        (&layout::B_SD, document.b_sd),
    ];
    for (key, value) in numbers {
        keys.insert(key.name, toml_edit::value(value));
    }
    keys.insert("illuminant", word(&document.illuminant));
    keys.insert("observer", word(&document.observer));
    let tones = document.tones.iter().map(tone);
    keys.insert("tones", list_of_lines(tones));
    // What the colour alone tells is not written: it is worked out anew when the colour is edited.
    let by_colour = TargetDocument {
        r: None,
        ..document.clone()
    };
    let Target {
        spectrum,
        spectrum_from,
        ..
    } = by_colour.into_target()?;
    if (spectrum, spectrum_from) != (target.spectrum, target.spectrum_from) {
        let values = target.spectrum.values().iter().copied();
        keys.insert("r", Item::Value(values.collect::<Array>().into()));
    }
    put(&mut keys, "r_from", serde_word(&document.r_from));
    put(&mut keys, "seen_by", serde_word(&document.seen_by));
    put(&mut keys, "specular", document.specular);
    put(&mut keys, layout::APERTURE_MM.name, document.aperture_mm);
    put(
        &mut keys,
        layout::CONTRAST_RATIO.name,
        document.contrast_ratio,
    );
    put(&mut keys, layout::TP_AB.name, document.tp_ab);
    put(&mut keys, layout::TP_00.name, document.tp_00);
    if !document.notes.is_empty() {
        keys.insert("notes", words(&document.notes));
    }
    if !document.charts.is_empty() {
        put(
            &mut keys,
            layout::CHARTS,
            serde_json::to_string(&document.charts).ok(),
        );
    }
    if !document.photographs.is_empty() {
        let photographs = document.photographs.iter().map(photographed);
        keys.insert(layout::PHOTOGRAPHS, list_of_lines(photographs));
    }
    Ok(Item::Table(keys))
}

/// The word that a value is in JSON.
fn serde_word(value: &impl serde::Serialize) -> Option<String> {
    let value = serde_json::to_value(value).ok()?;
    value.as_str().map(str::to_owned)
}

fn photographed(photographed: &Photographed) -> Value {
    let Photographed {
        file,
        region,
        card,
        card_lab,
        chart,
        chart_values,
    } = photographed;
    let file = Some(file);
    let values = [
        file,
        region.as_ref(),
        card.as_ref(),
        card_lab.as_ref(),
        chart.as_ref(),
        chart_values.as_ref(),
    ];
    let given = layout::PHOTOGRAPHED.into_iter().zip(values);
    let given = given.filter_map(|(key, value)| Some((key, value?.as_str())));
    given.collect::<InlineTable>().into()
}

fn tone(tone: &ToneDocument) -> Value {
    let mut keys = InlineTable::new();
    keys.insert("role", tone.role.to_string().into());
    for (key, value) in [
        (&layout::L, tone.l),
        (&layout::A, tone.a),
        (&layout::B, tone.b),
        (&layout::SHARE, tone.share),
    ] {
        keys.insert(key.name, value.into());
    }
    keys.into()
}

/// layout::A list with a line for each value.
fn list_of_lines(values: impl Iterator<Item = Value>) -> Item {
    let mut list: Array = values.collect();
    for value in list.iter_mut() {
        value.decor_mut().set_prefix("\n  ");
    }
    if !list.is_empty() {
        list.set_trailing("\n");
        list.set_trailing_comma(true);
    }
    Item::Value(list.into())
}

fn build(request: &Request) -> Item {
    let mut keys = table("What is cast: the whole of each cup, all its pots together.");
    let mut cup = |base: &str, mass: &str, cup: &WantedCup| {
        put(&mut keys, base, cup.base.as_deref());
        put(&mut keys, mass, Some(cup.base_mass.0));
    };
    cup("base", layout::BASE_G.name, &request.skin);
    match &request.beneath {
        Beneath::Foam { cup: foam, .. } | Beneath::PouredFoam { cup: foam, .. } => {
            cup("foam", layout::FOAM_G.name, foam);
        }
        Beneath::Backing(_) | Beneath::Read(_) => {}
    }
    if let Some((paint, _)) = &request.paint {
        cup("paint", layout::PAINT_G.name, paint);
    }
    put(
        &mut keys,
        layout::THICKNESS_MM.name,
        Some(request.thickness.0),
    );
    put(
        &mut keys,
        layout::MAX_THICKNESS_MM.name,
        request.max_thickness.map(|most| most.0),
    );
    put(&mut keys, layout::HIDE_WITHIN.name, request.hide_within);
    put(&mut keys, layout::FIBRE_G.name, Some(request.fibre.0));
    match &request.beneath {
        Beneath::Foam { at_the_tone, .. } => {
            put(&mut keys, "foam_at_tone", at_the_tone.then_some(true));
        }
        Beneath::PouredFoam { mix, .. } => put(&mut keys, "foam_mix", Some(mix.to_string())),
        Beneath::Backing(name) => put(&mut keys, "backing", Some(name.as_str())),
        Beneath::Read(read) => put(&mut keys, "backing", Some(read.name.as_str())),
    }
    if let Some((_, dry_thickness)) = &request.paint {
        put(&mut keys, layout::PAINT_MM.name, Some(dry_thickness.0));
        keys.insert("paint_tones", words(&request.paint_tones));
    }
    put(&mut keys, "one_tint", request.one_tint.then_some(true));
    put(&mut keys, "stock", request.stock.as_deref());
    let pots = request.largest_pots;
    for (number, most) in [
        (&layout::LARGEST_POT_G, pots.any),
        (&layout::LARGEST_FOAM_POT_G, pots.foam),
    ] {
        put(&mut keys, number.name, most.map(|most| most.0));
    }
    Item::Table(keys)
}

fn limits(request: &Request) -> Item {
    let mut keys = table("Where recipes may be looked for.");
    let limits = &request.limits;
    if let Some(pigments) = &request.pigments {
        keys.insert("pigments", words(pigments));
    }
    let open = request.with.iter().filter(|(_, drops)| drops.is_none());
    let open: Vec<String> = open.map(|(colorant, _)| colorant.to_string()).collect();
    if !open.is_empty() {
        keys.insert("with", words(&open));
    }
    let settled = (request.with.iter())
        .filter_map(|(colorant, drops)| Some(format!("{colorant} {}", (*drops)?)));
    let settled: Vec<String> = settled.collect();
    if !settled.is_empty() {
        keys.insert("with_drops", word(&settled.join("; ")));
    }
    if !request.without.is_empty() {
        keys.insert("without", words(&request.without));
    }
    if !request.lights.is_empty() {
        let lights: Vec<&str> = request.lights.iter().map(|light| light.name()).collect();
        keys.insert("illuminants", words(&lights));
    }
    put(
        &mut keys,
        layout::MAX_DROPS.name,
        limits.max_drops.map(i64::from),
    );
    put(
        &mut keys,
        layout::MAX_TOTAL_DROPS.name,
        limits.max_total_drops.map(i64::from),
    );
    put(
        &mut keys,
        layout::MAX_PIGMENTS.name,
        i64::try_from(limits.max_pigments).ok(),
    );
    let window = limits.contrast_ratio;
    put(
        &mut keys,
        layout::MIN_CONTRAST.name,
        window.map(|(least, _)| least),
    );
    let most = window.map(|(_, most)| most).filter(|most| most.is_finite());
    put(&mut keys, layout::MAX_CONTRAST.name, most);
    put(&mut keys, layout::TOLERANCE.name, request.tolerance);
    put(&mut keys, layout::WITHIN.name, limits.within);
    let seconds = limits
        .time_limit
        .map_or(f64::INFINITY, |limit| limit.as_secs_f64());
    put(&mut keys, layout::TIME_LIMIT_S.name, Some(seconds));
    Item::Table(keys)
}

fn recipe(recipe: &KeptRecipe) -> Item {
    let mut keys = table("What is poured, one pot of each cup; a bare number is drops.");
    keys.insert("date", day(recipe.date));
    keys.insert("skin", cup(&recipe.skin));
    if let Some(foam) = &recipe.foam {
        keys.insert("foam", cup(foam));
    }
    if !recipe.paints.is_empty() {
        let mut paints = ArrayOfTables::new();
        for (role, paint) in &recipe.paints {
            let mut keys = table("");
            keys.insert("tone", word(&role.to_string()));
            put_cup(&mut keys, paint);
            paints.push(keys);
        }
        keys.insert("paints", Item::ArrayOfTables(paints));
    }
    if let Some(kept) = &recipe.stock {
        let mut of_stock =
            table("The one stock of skin and foam: what is stirred together for it.");
        of_stock.insert("name", word(&kept.stock.name));
        of_stock.insert("mix", word(&kept.stock.mix().to_string()));
        put(
            &mut of_stock,
            layout::DROP_G.name,
            kept.stock.drop_mass.map(|drop| drop.0),
        );
        put(
            &mut of_stock,
            layout::SKIN_FREE_DELTA_E.name,
            Some(kept.skin_free_delta_e),
        );
        put(
            &mut of_stock,
            layout::FOAM_FREE_DELTA_E.name,
            kept.foam_free_delta_e,
        );
        keys.insert("stock", Item::Table(of_stock));
    }
    Item::Table(keys)
}

fn bench(cup: &BenchCup) -> Item {
    let mut keys = table(
        "The skin's cup as it was last corrected, one pot as it was really poured: its casting is logged with this mix. The next cup\n\
         # is poured by [recipe].",
    );
    keys.insert("date", day(cup.date));
    keys.insert("by", word(&cup.by));
    keys.insert("base", word(&cup.poured.base));
    put(&mut keys, layout::BASE_G.name, Some(cup.poured.base_mass.0));
    keys.insert("mix", word(&cup.poured.mix.to_string()));
    put(
        &mut keys,
        layout::BEFORE_G.name,
        Some(cup.before.base_mass.0),
    );
    keys.insert("mix_before", word(&cup.before.mix.to_string()));
    match &cup.fate {
        BenchFate::ToBeLogged => {}
        BenchFate::Logged(swatch) => put(&mut keys, "logged", Some(swatch.as_str())),
        BenchFate::PouredAway => put(&mut keys, "poured_away", Some(true)),
    }
    Item::Table(keys)
}

fn cup(kept: &KeptCup) -> Item {
    let mut keys = table("");
    put_cup(&mut keys, kept);
    Item::Table(keys)
}

fn put_cup(keys: &mut Table, cup: &KeptCup) {
    keys.insert("base", word(&cup.poured.base));
    put(keys, layout::BASE_G.name, Some(cup.poured.base_mass.0));
    put(keys, layout::POTS.name, Some(i64::from(cup.pots)));
    keys.insert("mix", word(&cup.poured.mix.to_string()));
    put(
        keys,
        layout::LIGHTER.name,
        (cup.lighter != 0.0).then_some(cup.lighter),
    );
    if let Some(search) = cup.search {
        put(keys, layout::DELTA_E.name, Some(search.delta_e));
        put(keys, layout::GAP.name, Some(search.gap));
        put(keys, "proven", Some(search.proven));
        let nearest = Some(search.nearest_delta_e).filter(|miss| miss.is_finite());
        put(keys, layout::NEAREST_DELTA_E.name, nearest);
        let effort = Some(search.effort).filter(|effort| effort.is_finite());
        put(keys, layout::EFFORT.name, effort);
        put(keys, layout::EFFORT_GAP.name, search.effort_gap);
    }
}

fn event(event: &Event) -> Table {
    let mut keys = table("");
    keys.insert("date", day(event.date));
    keys.insert("what", word(event.what.word()));
    put(&mut keys, "swatch", event.swatch.as_deref());
    put(
        &mut keys,
        "note",
        Some(event.note.as_str()).filter(|note| !note.is_empty()),
    );
    if !event.was.is_empty() {
        let lines = event.was.iter().map(|line| Value::from(line.as_str()));
        keys.insert("was", list_of_lines(lines));
    }
    keys
}
