//! A terminal that a test drives: tmux, by its keys and what stands on its screen.

use std::path::Path;
use std::process::Command;
use std::time::Duration;

/// A terminal of tmux's, on a server of its own.
pub(super) struct TmuxTerminal(String);

impl TmuxTerminal {
    pub(super) fn open(folder: &Path, command: &str) -> TmuxTerminal {
        let terminal = TmuxTerminal(format!("tipstrike-test-{}", std::process::id()));
        let folder = folder.display().to_string();
        let size = ["-x", "80", "-y", "24"];
        terminal.run(&[&["new-session", "-d", "-c", &folder], &size[..], &[command]].concat());
        terminal
    }

    pub(super) fn run(&self, args: &[&str]) -> String {
        let output = Command::new("tmux")
            .args(["-L", &self.0, "-f", "/dev/null"])
            .args(args)
            .output()
            .unwrap();
        assert!(output.status.success(), "{args:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// Waits until the screen shows something; returns the screen.
    pub(super) fn shows(&self, what: &str) -> String {
        for _ in 0..1200 {
            let screen = self.run(&["capture-pane", "-p"]);
            if screen.contains(what) {
                return screen;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!(
            "no \"{what}\" on the screen:\n{}",
            self.run(&["capture-pane", "-p"])
        );
    }
}

impl Drop for TmuxTerminal {
    fn drop(&mut self) {
        // A server of this test alone.
        let _ = Command::new("tmux")
            .args(["-L", &self.0, "kill-server"])
            .output();
    }
}
