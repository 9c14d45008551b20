//! Data flows one way: no file refers to itself by way of others, no room to one above it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use super::root;
use super::source::Crate;

/// The rooms from the ground up; the first holds what all may use.
const ORDER: [&[&str]; 12] = [
    &[
        "bytes",
        "digits",
        "error",
        "error_kind",
        "flag",
        "format",
        "guard",
        "measure",
        "output",
        "parallel",
        "stats",
        "texts",
    ],
    &["job"],
    &["recording"],
    &["start"],
    &["fit"],
    &["score"],
    &["measuring"],
    &["study"],
    &["demo"],
    &["rehearsal"],
    &["report"],
    &["cli"],
];

/// The packages that hold several rooms.
const PACKAGES: [&str; 2] = ["trace/", "rows/"];

type Graph = BTreeMap<String, BTreeSet<String>>;

/// All that can be reached from `start`, by one step or more.
fn reach(graph: &Graph, start: &str) -> BTreeSet<String> {
    let mut seen = BTreeSet::new();
    let mut next = vec![start.to_owned()];
    while let Some(file) = next.pop() {
        for other in graph.get(&file).into_iter().flatten() {
            if seen.insert(other.clone()) {
                next.push(other.clone());
            }
        }
    }
    seen
}

/// Files that reach each other, in groups.
fn circles(graph: &Graph) -> Vec<Vec<String>> {
    let reached: BTreeMap<&String, _> = graph.keys().map(|f| (f, reach(graph, f))).collect();
    let together = |a: &String, b: &String| reached[a].contains(b) && reached[b].contains(a);
    let mut groups: Vec<Vec<String>> = Vec::new();
    for file in graph.keys().filter(|f| together(f, f)) {
        match groups.iter_mut().find(|group| together(&group[0], file)) {
            Some(group) => group.push(file.clone()),
            None => groups.push(vec![file.clone()]),
        }
    }
    groups
}

fn room(file: &str) -> Option<usize> {
    let inside = PACKAGES
        .iter()
        .find_map(|package| file.strip_prefix(package));
    let name = inside.unwrap_or(file).split('/').next()?;
    let name = name.trim_end_matches(".rs");
    ORDER.iter().position(|rooms| rooms.contains(&name))
}

fn graph() -> &'static Graph {
    static GRAPH: LazyLock<Graph> = LazyLock::new(|| Crate::read(&root().join("src")).references());
    &GRAPH
}

#[test]
fn no_files_refer_to_each_other_in_a_circle() {
    let graph = graph();
    let found = circles(graph);
    let lines = found.iter().map(|group| {
        let inside = |file: &String| {
            let to = graph[file].iter().filter(|other| group.contains(other));
            format!("  {file} -> {}", to.cloned().collect::<Vec<_>>().join(", "))
        };
        group.iter().map(inside).collect::<Vec<_>>().join("\n")
    });
    let lines: Vec<String> = lines.collect();
    assert!(found.is_empty(), "circles:\n{}", lines.join("\n\n"));
}

#[test]
fn no_room_refers_to_one_above_it() {
    let mut found = Vec::new();
    for (file, others) in graph() {
        let Some(floor) = room(file) else { continue };
        let up = others.iter().filter(|other| match room(other) {
            Some(other) => other > floor,
            // The library root is nobody's business.
            None => !other.ends_with("lib.rs"),
        });
        found.extend(up.map(|other| format!("{file} -> {other}")));
    }
    assert!(found.is_empty(), "arrows up:\n{}", found.join("\n"));
}

#[test]
fn every_file_belongs_to_a_room() {
    let roots = ["lib.rs", "trace/lib.rs", "rows/lib.rs"];
    let homeless = |file: &&String| room(file).is_none() && !roots.contains(&file.as_str());
    let found: Vec<&String> = graph().keys().filter(homeless).collect();
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn a_start_is_found_before_it_is_measured() {
    let graph = graph();
    let find = graph
        .iter()
        .filter(|(file, _)| file.starts_with("trace/start/find/"));
    let find: Vec<_> = find.collect();
    assert!(!find.is_empty());
    for (file, others) in find {
        let up = others
            .iter()
            .find(|o| o.starts_with("trace/start/measure/"));
        assert_eq!(up, None, "{file} refers to what comes after it");
    }
}

#[test]
fn references_are_seen_through_re_exports_and_aliases() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    };
    write("lib.rs", "mod a;\nmod b;\nmod c;\nuse tipstrike_d::e;");
    write("d/Cargo.toml", "");
    write("d/lib.rs", "pub mod e;\nmod f;");
    write("d/e.rs", "pub fn g() {}");
    write("d/f.rs", "use crate::e::g;");
    write("a/mod.rs", "pub mod deep;\npub use deep::Thing;");
    write(
        "a/deep.rs",
        "pub struct Thing;\nfn f() { crate::b::g(\"crate::c::no\") } // crate::c",
    );
    write("b.rs", "use crate::a as other;\nfn g(x: other::Thing) {}");
    write(
        "c.rs",
        "#[cfg(test)]\nmod tests { use crate::b::g; }\nuse super::b::{self, g as h};\nuse crate::e::g;",
    );
    let graph = Crate::read(folder.path()).references();
    let to = |file: &str| graph[file].iter().map(String::as_str).collect::<Vec<_>>();
    assert_eq!(to("a/mod.rs"), Vec::<&str>::new());
    assert_eq!(to("a/deep.rs"), ["b.rs"]);
    assert_eq!(to("b.rs"), ["a/deep.rs", "a/mod.rs"]);
    assert_eq!(to("c.rs"), ["b.rs", "d/e.rs"]);
    assert_eq!(to("d/f.rs"), ["d/e.rs"]);
    assert_eq!(circles(&graph), [["a/deep.rs", "b.rs"]]);
}
