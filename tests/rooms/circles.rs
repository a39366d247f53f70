//! Circles of files inside a room: a file that imports, by way of others, itself.

use std::collections::{BTreeMap, BTreeSet};

use crate::source::Source;

/// Modules by path, with what each imports.
type Imports = BTreeMap<String, BTreeSet<String>>;

/// Paths that a piece of code names: `use` trees spread out, then the paths in what is left. `*` ends a glob.
fn paths(code: &str) -> (Vec<Use>, Vec<Vec<String>>) {
    let mut uses = Vec::new();
    let mut rest = String::with_capacity(code.len());
    let mut tail = code;
    while let Some(start) = find_use(tail) {
        let end = start + tail[start..].find(';').expect("a use ends");
        let public = tail[..start]
            .trim_end()
            .rsplit(['\n', ';', '}', '{'])
            .next()
            .is_some_and(|head| head.trim_start().starts_with("pub"));
        let mut leaves = Vec::new();
        spread(&[], &tail[start + "use ".len()..end], &mut leaves);
        uses.extend(
            leaves
                .into_iter()
                .map(|(path, name)| Use { path, name, public }),
        );
        rest.push_str(&tail[..start]);
        tail = &tail[end + 1..];
    }
    rest.push_str(tail);
    let is_path = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
    let bare = rest
        .split(|c: char| !is_path(c))
        .filter(|path| path.contains("::"))
        .map(segments)
        .collect();
    (uses, bare)
}

/// A leaf of a `use` tree.
struct Use {
    path: Vec<String>,
    /// What it is called from here on.
    name: String,
    public: bool,
}

fn find_use(code: &str) -> Option<usize> {
    code.match_indices("use ").map(|(at, _)| at).find(|&at| {
        at == 0 || code[..at].ends_with(|c: char| c.is_whitespace() || c == '{' || c == ';')
    })
}

fn segments(path: &str) -> Vec<String> {
    path.split("::")
        .map(str::trim)
        .filter(|name| !name.is_empty())
        .map(str::to_owned)
        .collect()
}

/// The leaves of a `use` tree behind `base`, each with the name it is given.
fn spread(base: &[String], tree: &str, leaves: &mut Vec<(Vec<String>, String)>) {
    let tree = tree.trim();
    if let Some((head, list)) = tree.split_once('{') {
        let inner = list
            .trim_end()
            .strip_suffix('}')
            .expect("a list of imports is closed");
        let base: Vec<String> = base.iter().cloned().chain(segments(head)).collect();
        let mut depth = 0;
        for branch in inner.split(|c: char| {
            depth += i32::from(c == '{') - i32::from(c == '}');
            c == ',' && depth == 0
        }) {
            if !branch.trim().is_empty() {
                spread(&base, branch, leaves);
            }
        }
        return;
    }
    let (path, alias) = tree
        .split_once(" as ")
        .map_or((tree, None), |(path, alias)| (path, Some(alias.trim())));
    let mut path: Vec<String> = base.iter().cloned().chain(segments(path)).collect();
    if path.len() > 1 && path.last().is_some_and(|name| name == "self") {
        path.pop();
    }
    let name = path.last().expect("an import names something");
    let name = alias.unwrap_or(name).to_owned();
    leaves.push((path, name));
}

/// Where a path that is written in `module` leads from the root of the crate: by `crate::`, `super::`, `self::`, or by
/// the name of a child.
fn absolute(
    module: &str,
    path: &[String],
    files: &BTreeMap<String, Source>,
) -> Option<Vec<String>> {
    let here = segments(module);
    let first = path.first()?;
    let supers = path.iter().take_while(|name| *name == "super").count();
    let (base, rest) = match first.as_str() {
        "crate" => (&here[..0], &path[1..]),
        "self" => (&here[..], &path[1..]),
        "super" => (&here[..here.len().checked_sub(supers)?], &path[supers..]),
        child if files.contains_key(&format!("{module}::{child}")) => (&here[..], path),
        _ => return None,
    };
    Some(base.iter().chain(rest).cloned().collect())
}

/// The file that holds what a path from the root names: the deepest module on it, and where that only passes the name
/// on by `pub use`, the file that it has it from.
fn file_of(
    path: &[String],
    files: &BTreeMap<String, Source>,
    passed_on: &BTreeMap<(String, String), Vec<String>>,
) -> Option<String> {
    let depth = (1..=path.len())
        .rev()
        .find(|&depth| files.contains_key(&path[..depth].join("::")))?;
    let module = path[..depth].join("::");
    let further = path
        .get(depth)
        .and_then(|name| passed_on.get(&(module.clone(), name.clone())))
        .and_then(|path| file_of(path, files, passed_on));
    Some(further.unwrap_or(module))
}

/// What a path that is no `use` has to begin with to count: a head that only runs its children (`lid::open()`), as the
/// command line does its commands, does not import them by that.
const ROOTS: [&str; 3] = ["crate", "self", "super"];

/// What each module imports from its own room. A module that passes a child's name on does not import the child by that.
fn imports(files: &BTreeMap<String, Source>) -> Imports {
    let written: BTreeMap<&String, _> = files
        .iter()
        .map(|(module, source)| (module, paths(&source.code)))
        .collect();
    let mut passed_on = BTreeMap::new();
    for (module, (uses, _)) in &written {
        for leaf in uses.iter().filter(|leaf| leaf.public) {
            assert_ne!(
                leaf.name, "*",
                "{module} passes names on that it doesn't say"
            );
            if let Some(path) = absolute(module, &leaf.path, files) {
                passed_on.insert(((*module).clone(), leaf.name.clone()), path);
            }
        }
    }
    let room = |module: &str| module.split("::").next().map(str::to_owned);
    written
        .iter()
        .map(|(module, (uses, bare))| {
            let below = format!("{module}::");
            let used = uses
                .iter()
                .filter_map(|leaf| {
                    let path = absolute(module, &leaf.path, files)?;
                    let passes_a_child_on = leaf.public && path.join("::").starts_with(&below);
                    (!passes_a_child_on).then_some(path)
                })
                .chain(
                    bare.iter()
                        .filter(|path| ROOTS.contains(&path[0].as_str()))
                        .filter_map(|path| absolute(module, path, files)),
                )
                .filter_map(|path| file_of(&path, files, &passed_on))
                .filter(|file| file != *module && room(file) == room(module))
                .collect();
            ((*module).clone(), used)
        })
        .collect()
}

/// Every circle, as the modules in it with what each imports of the others.
pub(crate) fn circles(files: &BTreeMap<String, Source>) -> Vec<Imports> {
    let imports = imports(files);
    let reached: Imports = imports
        .keys()
        .map(|from| {
            let mut seen = BTreeSet::new();
            let mut next: Vec<&String> = imports[from].iter().collect();
            while let Some(module) = next.pop() {
                if seen.insert(module.clone()) {
                    next.extend(&imports[module]);
                }
            }
            (from.clone(), seen)
        })
        .collect();
    let mut found: Vec<Imports> = Vec::new();
    for (module, seen) in &reached {
        if !seen.contains(module) || found.iter().any(|circle| circle.contains_key(module)) {
            continue;
        }
        let together: BTreeSet<String> = seen
            .iter()
            .filter(|other| reached[*other].contains(module))
            .cloned()
            .collect();
        found.push(
            together
                .iter()
                .map(|one| {
                    (
                        one.clone(),
                        imports[one].intersection(&together).cloned().collect(),
                    )
                })
                .collect(),
        );
    }
    found
}

/// The circles among files that are given as text, each as its modules.
fn circles_of(files: &[(&str, &str)]) -> Vec<Vec<String>> {
    let files = files
        .iter()
        .map(|(module, text)| ((*module).to_owned(), Source::of(text)))
        .collect();
    let found = circles(&files).into_iter();
    found.map(|circle| circle.into_keys().collect()).collect()
}

#[test]
fn a_circle_of_two_is_seen() {
    let files = [
        ("pot", "mod lid;\nuse lid::Lid;\npub struct Pot(Lid);"),
        ("pot::lid", "use super::Pot;\npub struct Lid;"),
    ];
    assert_eq!(
        circles_of(&files),
        [["pot", "pot::lid"]],
        "by `use child::` and by `super::`"
    );
    let by_path = [
        ("pot", "mod lid;\nmod rim;"),
        ("pot::lid", "fn open() { super::rim::lift() }"),
        ("pot::rim", "fn shut() { crate::pot::lid::press() }"),
    ];
    assert_eq!(
        circles_of(&by_path),
        [["pot::lid", "pot::rim"]],
        "by paths without a `use`"
    );
}

#[test]
fn a_circle_of_three_is_seen_through_nested_folders() {
    let files = [
        ("pot", "mod lid;\nmod rim;"),
        ("pot::lid", "use crate::pot::rim::Rim;"),
        ("pot::rim", "mod edge;\nuse edge::Edge;"),
        ("pot::rim::edge", "use super::super::lid::Lid;"),
    ];
    assert_eq!(
        circles_of(&files),
        [["pot::lid", "pot::rim", "pot::rim::edge"]],
        "three files"
    );
}

#[test]
fn a_circle_is_seen_through_a_name_passed_on() {
    let files = [
        (
            "pot",
            "mod lid;\nmod rim;\npub use lid::Lid;\npub(crate) use self::rim::{Edge as Brim, Rim};",
        ),
        ("pot::lid", "use super::Brim;"),
        ("pot::rim", "use crate::pot::Lid;"),
    ];
    assert_eq!(
        circles_of(&files),
        [["pot::lid", "pot::rim"]],
        "without the mod.rs, which only passes names on"
    );
}

#[test]
fn a_circle_is_seen_through_nested_braces() {
    let files = [
        ("pot", "mod lid;\nmod rim;\nmod knob;"),
        (
            "pot::lid",
            "use super::{\n    knob::Knob,\n    rim::{self, Rim},\n};",
        ),
        (
            "pot::rim",
            "use crate::pot::{knob::{Knob, Grip}, lid::{Lid, seal::{Seal}}};",
        ),
        ("pot::knob", "pub struct Knob;"),
    ];
    assert_eq!(
        circles_of(&files),
        [["pot::lid", "pot::rim"]],
        "through both lists"
    );
}

#[test]
fn what_is_no_circle_is_not_called_one() {
    let files = [
        (
            "pot",
            "mod lid;\nmod checks;\npub use lid::Lid;\npub struct Pot;",
        ),
        // The child of a module that passes its name on may use what that module holds.
        (
            "pot::lid",
            "use super::Pot; // use super::checks::x;\n#[cfg(test)]\nmod tests { use super::super::seal::Seal; }",
        ),
        (
            "pot::seal",
            "use super::lid::Lid; const SAYS: &str = \"super::seal\";",
        ),
        (
            "cup",
            "mod hand;\nuse crate::pot::Pot;\nfn run() { hand::run() }",
        ),
        ("cup::hand", "use super::Cup;"),
        ("pot::rim", "use crate::cup::Cup;"),
    ];
    assert!(circles_of(&files).is_empty(), "{:?}", circles_of(&files));
}
