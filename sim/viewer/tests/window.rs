//! A real window under Xvfb: an axis is jogged by key and by mouse, and its gauge is read.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a check that cannot be made must fail")]

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Ended with the test, whatever becomes of it.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// The display of this test; its own, so that it disturbs nobody.
fn display() -> (Running, String) {
    let (read, write) = std::io::pipe().unwrap();
    let server = Command::new("Xvfb")
        .args(["-displayfd", "1", "-screen", "0", "1280x720x24", "-nolisten", "tcp"])
        .stdout(write)
        .stderr(Stdio::null())
        .spawn()
        .expect("Xvfb is installed by .ci/run");
    let server = Running(server);
    let mut number = String::new();
    BufReader::new(read).read_line(&mut number).unwrap();
    (server, format!(":{}", number.trim()))
}

struct Screen {
    display: String,
    told: Arc<Mutex<Vec<String>>>,
}

impl Screen {
    fn xdotool(&self, arguments: &[&str]) -> String {
        let output = Command::new("xdotool").env("DISPLAY", &self.display).args(arguments).output().unwrap();
        String::from_utf8(output.stdout).unwrap().trim().to_owned()
    }

    /// What a line of the screen said last.
    fn last(&self, name: &str) -> Option<String> {
        let told = self.told.lock().unwrap();
        let start = format!("{name}: ");
        told.iter().rev().find_map(|line| line.strip_prefix(&start).map(str::to_owned))
    }

    fn gauge(&self, axis: usize) -> f64 {
        let text = self.last(&format!("axis {axis}")).unwrap();
        text.trim_end_matches('°').parse().unwrap()
    }

    fn wait(&self, what: &str, so: impl Fn(&Self) -> bool) {
        let begun = Instant::now();
        while !so(self) {
            assert!(
                begun.elapsed() < Duration::from_secs(240),
                "{what}: it never came to be so; told: {:?}",
                self.told.lock().unwrap().iter().rev().take(20).collect::<Vec<_>>()
            );
            std::thread::sleep(Duration::from_millis(200));
        }
    }
}

#[test]
fn an_axis_is_jogged_by_key_and_by_mouse_and_its_gauge_follows() {
    let (_server, display) = display();
    let mut viewer = Command::new(env!("CARGO_BIN_EXE_seamwright-viewer"))
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("../.."))
        .args(["scenes/gate-bracket/cell.toml", "--task", "hand", "--aloud"])
        .env("DISPLAY", &display)
        .env_remove("WAYLAND_DISPLAY")
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let told: Arc<Mutex<Vec<String>>> = Arc::default();
    let lines = BufReader::new(viewer.stdout.take().unwrap()).lines();
    let listener = Arc::clone(&told);
    std::thread::spawn(move || {
        for line in lines.map_while(Result::ok) {
            listener.lock().unwrap().push(line);
        }
    });
    let _viewer = Running(viewer);
    let screen = Screen { display, told };
    screen.wait("the gauges are there", |screen| screen.last("axis 6").is_some());
    let window = screen.xdotool(&["search", "--sync", "--name", "gate-bracket"]);
    let window = window.lines().next().unwrap().to_owned();
    screen.xdotool(&["windowfocus", "--sync", &window]);
    let start = screen.gauge(2);
    screen.xdotool(&["keydown", "2"]);
    screen.wait("axis 2 turns while its key is held", |screen| screen.gauge(2) > start + 0.5);
    screen.xdotool(&["keyup", "2"]);
    // The key's release and one more frame; then nothing moves.
    std::thread::sleep(Duration::from_secs(4));
    let rest = screen.gauge(2);
    std::thread::sleep(Duration::from_secs(2));
    assert_eq!(screen.gauge(2), rest, "letting go stops");
    // The plus key below the gauge of axis 1, at a scale of 1: 14 px margin, 100 px a gauge, 14 px between.
    let before = screen.gauge(1);
    screen.xdotool(&["mousemove", "98", "668"]);
    std::thread::sleep(Duration::from_secs(2));
    screen.xdotool(&["mousedown", "1"]);
    screen.wait("axis 1 turns while the mouse holds its key", |screen| screen.gauge(1) > before + 0.5);
    screen.xdotool(&["mouseup", "1"]);
    std::thread::sleep(Duration::from_secs(4));
    let rest = screen.gauge(1);
    std::thread::sleep(Duration::from_secs(2));
    assert_eq!(screen.gauge(1), rest, "letting go stops");
}
