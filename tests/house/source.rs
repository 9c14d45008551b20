//! Reads the modules of `src`: which file is which module, what each re-exports, and which files it refers to.
//!
//! The packages inside `src` are modules of the root here, under the names that Rust code gives them.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// A path such as `["tipstrike_trace", "stats", "order", "median"]`, from the root of `src`.
type Item = Vec<String>;

/// How the names of our packages begin.
const PACKAGES: &str = "tipstrike_";

/// One source file.
#[derive(Default)]
struct Module {
    file: String,
    /// Names that `use` brings in, by the name they have here; `None` for a private one.
    imports: Vec<(String, Item)>,
    re_exports: Vec<(String, Item)>,
    /// Paths in the code itself.
    mentions: Vec<Vec<String>>,
    defines: BTreeSet<String>,
}

/// All modules of all packages, without their tests.
pub struct Crate(BTreeMap<Item, Module>);

impl Crate {
    /// Reads the crate whose root file lies in `src`, and those in folders of `src` that have a manifest of their own.
    pub fn read(src: &Path) -> Crate {
        let mut modules = BTreeMap::new();
        load(src, &[], "lib.rs", &mut modules);
        for entry in std::fs::read_dir(src).unwrap().map(|e| e.unwrap()) {
            if entry.path().join("Cargo.toml").is_file() {
                let name = entry.file_name().into_string().unwrap();
                let package = format!("{PACKAGES}{name}");
                load(src, &[package], &format!("{name}/lib.rs"), &mut modules);
            }
        }
        Crate(modules)
    }

    /// For each file the files it refers to, re-exports of its own children left out.
    pub fn references(&self) -> BTreeMap<String, BTreeSet<String>> {
        self.0
            .iter()
            .map(|(path, module)| (module.file.clone(), self.of(path, module)))
            .collect()
    }

    fn of(&self, path: &Item, module: &Module) -> BTreeSet<String> {
        let imports = module.imports.iter().map(|(_, item)| item.clone());
        let mentions = module
            .mentions
            .iter()
            .filter_map(|mention| self.absolute(path, module, mention));
        let foreign = module
            .re_exports
            .iter()
            .map(|(_, item)| item.clone())
            .filter(|item| !item.starts_with(path));
        let mut found: BTreeSet<String> = imports
            .chain(mentions)
            .chain(foreign)
            .filter_map(|item| self.home(&item, 0))
            .collect();
        found.remove(&module.file);
        found
    }

    /// A path of the code from the root of the crate; `None` where it leads out of the crate.
    fn absolute(&self, path: &Item, module: &Module, mention: &[String]) -> Option<Item> {
        let (first, rest) = mention.split_first()?;
        if let Some(item) = from_root(path, mention) {
            return Some(item);
        }
        let child = [path.clone(), vec![first.clone()]].concat();
        let start = if self.0.contains_key(&child) {
            child
        } else {
            let imports = module.imports.iter().chain(&module.re_exports);
            imports.clone().find(|(name, _)| name == first)?.1.clone()
        };
        Some([start, rest.to_vec()].concat())
    }

    /// The file that defines `item`, through re-exports.
    fn home(&self, item: &[String], depth: usize) -> Option<String> {
        assert!(depth < 20, "re-exports of {item:?} go round");
        let known = (0..=item.len())
            .rev()
            .find(|&n| self.0.contains_key(&item[..n]))?;
        let module = &self.0[&item[..known]];
        let Some(name) = item.get(known) else {
            return Some(module.file.clone());
        };
        if module.defines.contains(name) {
            return Some(module.file.clone());
        }
        let rest = &item[known + 1..];
        let follow = |target: &Item| self.home(&[target, rest].concat(), depth + 1);
        // What the root of a package imports, all of the package may call by its name.
        let imports = if module.file.ends_with("lib.rs") {
            &module.imports[..]
        } else {
            &[]
        };
        let mut names = module.re_exports.iter().chain(imports);
        if let Some((_, target)) = names.find(|(n, _)| n == name) {
            return follow(target);
        }
        let globs = module.re_exports.iter().filter(|(n, _)| n == "*");
        for (_, target) in globs {
            if self.0.get(target).is_some_and(|m| m.defines.contains(name)) {
                return follow(&[target.clone(), vec![name.clone()]].concat());
            }
        }
        Some(module.file.clone())
    }
}

fn load(src: &Path, path: &[String], file: &str, modules: &mut BTreeMap<Item, Module>) {
    let text = std::fs::read_to_string(src.join(file)).unwrap();
    let tokens = without_tests(tokens(&text));
    let mut module = Module {
        file: file.to_owned(),
        ..Module::default()
    };
    let folder = match file.rsplit_once('/') {
        _ if file == "lib.rs" => String::new(),
        Some((folder, "mod.rs" | "lib.rs")) => format!("{folder}/"),
        _ => file.replace(".rs", "/"),
    };
    let mut at = 0;
    while at < tokens.len() {
        match tokens[at].as_str() {
            "use" => {
                let end = at + tokens[at..].iter().position(|t| t == ";").unwrap();
                let mut leaves = Vec::new();
                tree(&tokens[at + 1..end], &[], &mut leaves);
                let leaves = leaves.into_iter().filter_map(|(name, leaf)| {
                    Some((name, from_root(path, &leaf).or_else(|| own(path, leaf))?))
                });
                match at > 0 && (tokens[at - 1] == "pub" || tokens[at - 1] == ")") {
                    true => module.re_exports.extend(leaves),
                    false => module.imports.extend(leaves),
                }
                at = end;
            }
            "mod" if tokens.get(at + 2).is_some_and(|t| t == ";") => {
                let name = &tokens[at + 1];
                let inner = [path, std::slice::from_ref(name)].concat();
                let flat = format!("{folder}{name}.rs");
                let nested = format!("{folder}{name}/mod.rs");
                let file = if src.join(&flat).is_file() {
                    flat
                } else {
                    nested
                };
                load(src, &inner, &file, modules);
                at += 2;
            }
            "fn" | "struct" | "enum" | "trait" | "type" | "const" | "static" | "mod" => {
                module.defines.insert(tokens[at + 1].clone());
            }
            // `pub(in path)` says who may see it, and refers to nothing.
            "in" if at > 1 && tokens[at - 2] == "pub" => {
                at += tokens[at..].iter().position(|t| t == ")").unwrap();
            }
            word if is_name(word) && tokens.get(at + 1).is_some_and(|t| t == "::") => {
                let mut mention = vec![word.to_owned()];
                while tokens.get(at + 1).is_some_and(|t| t == "::") && is_name(&tokens[at + 2]) {
                    mention.push(tokens[at + 2].clone());
                    at += 2;
                }
                module.mentions.push(mention);
            }
            _ => {}
        }
        at += 1;
    }
    modules.insert(path.to_vec(), module);
}

fn is_name(token: &str) -> bool {
    token.starts_with(|c: char| c.is_alphabetic() || c == '_')
}

/// A path that begins with `crate`, `self`, `super` or a package, from the root of `src`.
fn from_root(path: &[String], item: &[String]) -> Option<Item> {
    let (first, rest) = item.split_first()?;
    match first.as_str() {
        package if package.starts_with(PACKAGES) => Some(item.to_vec()),
        "crate" => {
            let package = path.first().filter(|name| name.starts_with(PACKAGES));
            Some(package.into_iter().chain(rest).cloned().collect())
        }
        "self" => Some([path, rest].concat()),
        "super" => {
            let up = &path[..path.len().checked_sub(1)?];
            match rest.first().map(String::as_str) {
                Some("super") => from_root(up, rest),
                _ => Some([up, rest].concat()),
            }
        }
        _ => None,
    }
}

/// `use child::Name;` in the parent of `child`. Crates from outside come out as children that nobody has.
fn own(path: &[String], item: Item) -> Option<Item> {
    Some([path.to_vec(), item].concat())
}

/// Every leaf of a `use` tree with the name it gets.
fn tree(tokens: &[String], before: &[String], leaves: &mut Vec<(String, Item)>) {
    let mut path = before.to_vec();
    let mut at = 0;
    while at < tokens.len() {
        match tokens[at].as_str() {
            "::" => {}
            "{" => {
                let inside = &tokens[at + 1..tokens.len() - 1];
                for part in parts(inside) {
                    tree(part, &path, leaves);
                }
                return;
            }
            "as" => {
                leaves.push((tokens[at + 1].clone(), path));
                return;
            }
            "self" if !path.is_empty() => {}
            "*" => {
                leaves.push(("*".into(), path));
                return;
            }
            name => path.push(name.to_owned()),
        }
        at += 1;
    }
    if let Some(name) = path.last() {
        leaves.push((name.clone(), path.clone()));
    }
}

/// The parts between the commas outside of braces.
fn parts(tokens: &[String]) -> Vec<&[String]> {
    let mut depth = 0;
    tokens
        .split(|token| {
            depth += i32::from(token == "{") - i32::from(token == "}");
            depth == 0 && token == ","
        })
        .filter(|part| !part.is_empty())
        .collect()
}

/// Names, `::` and single signs; comments, texts and characters left out.
fn tokens(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let length = if rest.starts_with("//") {
            rest.find('\n').unwrap_or(rest.len())
        } else if let Some(raw) = rest.strip_prefix("r#\"") {
            raw.find("\"#").unwrap() + 5
        } else if let Some(inside) = rest.strip_prefix('"') {
            quoted(inside, '"') + 2
        } else if rest.starts_with("'\\") || rest.chars().nth(2) == Some('\'') && c == '\'' {
            quoted(&rest[1..], '\'') + 2
        } else if c.is_alphanumeric() || c == '_' {
            let end = rest.find(|c: char| !c.is_alphanumeric() && c != '_');
            let end = end.unwrap_or(rest.len());
            found.push(rest[..end].to_owned());
            end
        } else if rest.starts_with("::") {
            found.push("::".into());
            2
        } else {
            if !c.is_whitespace() {
                found.push(c.to_string());
            }
            c.len_utf8()
        };
        rest = &rest[length..];
    }
    found
}

/// Length of a text up to the closing quote.
fn quoted(inside: &str, quote: char) -> usize {
    let mut escaped = false;
    for (at, c) in inside.char_indices() {
        if c == quote && !escaped {
            return at;
        }
        escaped = c == '\\' && !escaped;
    }
    panic!("a text without an end: {}", &inside[..inside.len().min(40)]);
}

/// Drops every item under `#[cfg(test)]`.
fn without_tests(tokens: Vec<String>) -> Vec<String> {
    let mark = ["#", "[", "cfg", "(", "test", ")", "]"];
    let mut kept = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        if !tokens[at..].iter().take(mark.len()).eq(mark.iter()) {
            kept.push(tokens[at].clone());
            at += 1;
            continue;
        }
        let mut depth = 0;
        loop {
            let token = tokens[at].as_str();
            depth += i32::from(token == "{") - i32::from(token == "}");
            at += 1;
            if depth == 0 && (token == ";" || token == "}") {
                break;
            }
        }
    }
    kept
}
