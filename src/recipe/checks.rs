//! What an order may not ask for: names that nothing bears, and what contradicts itself.

use std::collections::HashSet;

use super::filling::held_drops;
use super::order::{Order, OrderedUnderlay};
use crate::error::{Error, Mend, Result, Setting};
use crate::materials::{Kind, Millimetres};
use crate::search::Limits;
use crate::tone::Target;

impl Order<'_> {
    /// The widest tolerance that can be asked for, ΔE00: black lies as far from white.
    pub(crate) const MOST_TOLERANCE: f64 = 100.0;

    /// Refuses an order that no search can answer soundly.
    ///
    /// # Errors
    /// A target under another viewing than the book's; names that are not on the shelf; a foam over a foam, or an underlay or
    /// paint of another kind; a pigment that is only weighed among those to be dropped, or one that must be in and may not
    /// be; drops that must be in where a limit leaves no room for them; no light; a skin thicker than there is room for; a
    /// tone to paint named twice; a tolerance or bounds that are no numbers or exclude each other.
    pub fn check(&self, target: &Target) -> Result<()> {
        self.check_viewing(target)?;
        if self.lights.is_empty() {
            return Err(Error::input("no light to match under").mend("name one, such as D65"));
        }
        if let Some(tolerance) = self.tolerance
            && !(0.0..=Self::MOST_TOLERANCE).contains(&tolerance)
        {
            let finding = format!("a tolerance of ΔE00 {tolerance}");
            let mend = format!("expected a number from 0 to {}", Self::MOST_TOLERANCE);
            return Err(Error::input(finding).mend(mend));
        }
        self.limits.check()?;
        self.check_layers()?;
        self.check_pigments()?;
        self.check_room_for_drops()
    }

    /// Refuses a target under another viewing than the book's.
    pub(super) fn check_viewing(&self, target: &Target) -> Result<()> {
        let viewing = self.shelf.settings.viewing;
        if target.viewing != viewing {
            let finding = format!(
                "the target is given for {}, this book for {viewing}",
                target.viewing
            );
            return Err(Error::input(finding).mend("read the target again with this book"));
        }
        Ok(())
    }

    fn check_layers(&self) -> Result<()> {
        let kind = |name: &str| Ok(self.shelf.base(name)?.kind.kind());
        let skin = kind(&self.skin.base)?;
        if !matches!(self.beneath, OrderedUnderlay::Backing { .. }) && skin == Kind::Foam {
            let finding = format!(
                "`{}` is a foam; expected a skin over the foam",
                self.skin.base
            );
            return Err(Error::input(finding).mend(
                Mend::from("name a skin with ")
                    .set(Setting::SkinBase)
                    .and(", or match the foam alone, with a ")
                    .set(Setting::Backing)
                    .and(" and no ")
                    .set(Setting::FoamMass),
            ));
        }
        if let (Millimetres(skin), Some(Millimetres(room))) = (self.thickness, self.max_thickness)
            && skin > room
        {
            let finding =
                format!("the skin is {skin} mm thick, and the mould leaves room for {room} mm");
            return Err(Error::input(finding).mend(
                Mend::from("write ")
                    .set(Setting::Thickness)
                    .and(format!(" {room} or less, or raise "))
                    .set(Setting::MaxThickness),
            ));
        }
        for (index, tone) in self.paint_tones.iter().enumerate() {
            if self.paint_tones[..index].contains(tone) {
                let finding = format!("the tone {tone} is to be painted twice");
                return Err(Error::input(finding)
                    .mend(Mend::from("name each once in ").set(Setting::PaintTones)));
            }
        }
        Ok(())
    }

    /// Refuses names that can't be dropped, and pigments that must be in and may not be.
    fn check_pigments(&self) -> Result<()> {
        let held: Vec<String> = (held_drops(&self.in_the_skin))
            .map(|(colorant, _)| colorant.pigment)
            .collect();
        let offered = self.colorants.iter().flatten();
        let named = (offered.map(|colorant| (Setting::Pigments, &colorant.pigment)))
            .chain(
                held.iter()
                    .chain(&self.must)
                    .map(|name| (Setting::With, name)),
            )
            .chain(self.banned.iter().map(|name| (Setting::Without, name)));
        for (setting, name) in named {
            if self.shelf.pigment(name)?.drop_mass.is_none() {
                let finding = format!("`{name}` is weighed, and a search counts drops");
                return Err(Error::input(finding).mend(
                    Mend::from("leave it out of ")
                        .set(setting)
                        .and("; fibre goes in by ")
                        .set(Setting::FibreMass)
                        .and(" alone"),
                ));
            }
        }
        for name in self.must.iter().chain(&held) {
            let is_offered = (self.colorants.as_ref())
                .is_none_or(|offered| offered.iter().any(|colorant| colorant.pigment == *name));
            if self.banned.contains(name) || !is_offered {
                let finding = format!("`{name}` must be in the cup and may not be");
                return Err(Error::input(finding).mend(
                    Mend::from("see ")
                        .set(Setting::With)
                        .and(", ")
                        .set(Setting::Without)
                        .and(" and ")
                        .set(Setting::Pigments),
                ));
            }
        }
        Ok(())
    }

    /// Refuses drops that must be in where a limit leaves no room for them.
    fn check_room_for_drops(&self) -> Result<()> {
        let refused = |finding: String, setting, least: u64| {
            let mend = Mend::from("write ").set(setting);
            Err(Error::input(finding).mend(mend.and(format!(" {least} or more, or ask for fewer"))))
        };
        // One drop at least of what must be in without a count.
        let held: Vec<(String, u64)> = (held_drops(&self.in_the_skin))
            .map(|(colorant, count)| (colorant.to_string(), u64::from(count)))
            .chain(self.must.iter().map(|name| (name.clone(), 1)))
            .collect();
        let Limits {
            max_drops,
            max_total_drops,
            max_pigments,
            ..
        } = self.limits;
        for (name, count) in &held {
            if let Some(limit) = max_drops.filter(|limit| *count > u64::from(*limit)) {
                let finding =
                    format!("{count} drops of `{name}` must be in, and at most {limit} may be");
                return refused(finding, Setting::MaxDrops, *count);
            }
        }
        let total: u64 = held.iter().map(|(_, count)| count).sum();
        if let Some(limit) = max_total_drops.filter(|limit| total > u64::from(*limit)) {
            let finding =
                format!("at least {total} drops must be in, and at most {limit} may be in all");
            return refused(finding, Setting::MaxTotalDrops, total);
        }
        let pigments: HashSet<String> = (held_drops(&self.in_the_skin))
            .map(|(colorant, _)| colorant.pigment)
            .chain(self.must.iter().cloned())
            .collect();
        if pigments.len() > max_pigments {
            let count = pigments.len();
            let finding = format!("{count} pigments must be in, and at most {max_pigments} may be");
            return refused(finding, Setting::MaxPigments, count as u64);
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::Book;
    use crate::colour::{Lab, Viewing};
    use crate::materials::{Colorant, Grams};
    use crate::tone::ToneRole;

    fn refusal(alter: impl Fn(&mut Order<'_>)) -> Error {
        let book = Book::demo().expect("the demo opens");
        let target = Target::from_lab(Lab::new(65.0, 11.0, 14.0), Viewing::D65_10).expect("a tone");
        let mut order = Order::skin(book.shelf(), "clear skin", Grams(100.0));
        order.check(&target).expect("sound before");
        alter(&mut order);
        order.check(&target).expect_err("refused")
    }

    #[test]
    fn what_contradicts_itself_is_refused_and_the_mend_names_what_to_set() {
        let red = || "iron oxide red".to_owned();
        type Altered = fn(&mut Order<'_>);
        let cases: [(Altered, &str, &[Setting]); 9] = [
            (
                |order| order.must = vec!["cinnabar".to_owned()],
                "no pigment is called `cinnabar`",
                &[],
            ),
            (
                |order| order.banned = vec!["fibre".to_owned()],
                "`fibre` is weighed",
                &[Setting::Without, Setting::FibreMass],
            ),
            (
                |order| order.skin.base = "flexible foam".to_owned(),
                "",
                &[],
            ),
            (|order| order.limits.within = Some(f64::NAN), "NaN", &[]),
            (
                |order| order.limits.contrast_ratio = Some((0.6, 0.4)),
                "above",
                &[Setting::MinContrast, Setting::MaxContrast],
            ),
            (
                |order| order.max_thickness = Some(Millimetres(1.0)),
                "room for 1 mm",
                &[Setting::Thickness, Setting::MaxThickness],
            ),
            (
                |order| order.paint_tones = vec![ToneRole::Flush; 2],
                "painted twice",
                &[Setting::PaintTones],
            ),
            (
                |order| {
                    order.in_the_skin = "iron oxide red 9".parse().expect("a mix");
                    order.limits.max_drops = Some(8);
                },
                "9 drops of `iron oxide red`",
                &[Setting::MaxDrops],
            ),
            (
                |order| {
                    order.must = vec!["iron oxide red".to_owned(), "umber".to_owned()];
                    order.limits.max_pigments = 1;
                },
                "2 pigments must be in",
                &[Setting::MaxPigments],
            ),
        ];
        for (alter, words, settings) in cases {
            if words.is_empty() {
                // A foam may be matched by itself, over a card, but not over a foam.
                let error = refusal(|order| {
                    alter(order);
                    *order = order.clone().over_foam("flexible foam", Grams(50.0));
                });
                assert!(error.to_string().contains("is a foam"), "{error}");
                continue;
            }
            let error = refusal(alter);
            assert!(error.is_input(), "{error}");
            assert!(error.to_string().contains(words), "{error}");
            let spoken_of: Vec<Setting> = (error.advice().into_iter())
                .flat_map(Mend::settings)
                .collect();
            assert_eq!(spoken_of, settings, "{error}");
        }
        let both = refusal(|order| {
            order.must = vec![red()];
            order.banned = vec![red()];
        });
        assert!(
            both.to_string()
                .contains("must be in the cup and may not be"),
            "{both}"
        );
        let not_offered = refusal(|order| {
            order.must = vec![red()];
            order.colorants = Some(vec![Colorant::neat("umber")]);
        });
        assert!(
            not_offered.to_string().contains("may not be"),
            "{not_offered}"
        );
    }
}
