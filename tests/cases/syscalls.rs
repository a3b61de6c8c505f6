//! What the plugin does to the machine, as the system sees it: it writes no file that the user did
//! not ask for, and never opens anything of a network. Under `strace`, on the built bundle: while a
//! host scans, and while it plays with the editor open. What a snapshot writes, and where, is tested
//! beside it (`snapshot/save`).
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test")]

use clack_extensions::gui::{GuiApiType, GuiConfiguration, PluginGui, Window};
use plimsoll_tests::child::{end, skip};
use plimsoll_tests::display::{Like, ParentWindow, XServer};
use plimsoll_tests::host::{Buffers, Host, Library, built_bundle};
use plimsoll_tests::noise::song_like;
use plimsoll_tests::transport::{Blocks, Telling, Tells, play_once};
use std::collections::HashMap;
use std::process::Command;
use std::time::Duration;

/// Tells a process that it is the one that is traced.
const TRACED: &str = "PLIMSOLL_TRACED";

/// Calls that change a file system, and those that reach out of the machine.
const CALLS: &str = "trace=open,openat,openat2,creat,mkdir,mkdirat,rename,renameat,renameat2,unlink,\
    unlinkat,rmdir,link,linkat,symlink,symlinkat,truncate,chmod,fchmodat,mknod,mknodat,socket";

/// Runs `work` in a process of its own under strace; gives the calls that it made, a line each.
/// `None` in that process, and where there is no strace.
fn calls(test: &str, display: Option<&str>, work: impl FnOnce()) -> Option<Vec<String>> {
    if std::env::var_os(TRACED).is_some() {
        work();
        return None;
    }
    let works = Command::new("strace").args(["-o", "/dev/null", "true"]).output();
    if !works.is_ok_and(|output| output.status.success()) {
        skip("strace is not installed (apt-get install strace) or may not trace here");
        return None;
    }
    let name = format!("plimsoll-calls-{}-{}", std::process::id(), test.len());
    let trace = std::env::temp_dir().join(name);
    let mut strace = Command::new("strace");
    strace.args(["--follow-forks", "-qq", "--signal=none", "-e", CALLS, "-o"]).arg(&trace);
    strace.arg(std::env::current_exe().unwrap());
    strace.args(["--exact", test, "--test-threads=1"]).env(TRACED, "1");
    // The graphics driver keeps a cache of its own in the user's home: not the plugin's doing.
    strace.env("MESA_SHADER_CACHE_DISABLE", "true").env("MESA_GLSL_CACHE_DISABLE", "true");
    strace.env_remove("DISPLAY").envs(display.map(|display| ("DISPLAY", display)));
    let outcome = end(&mut strace);
    assert!(outcome.status.is_some_and(|status| status.success()), "{}", outcome.said.concat());
    let text = std::fs::read_to_string(&trace).unwrap();
    std::fs::remove_file(&trace).unwrap();
    let lines = whole_calls(&text);
    let bundle = built_bundle().file_name().unwrap().to_string_lossy().into_owned();
    assert!(lines.iter().any(|line| line.contains(&bundle)), "the trace lacks the bundle");
    Some(lines)
}

/// The lines of a trace. A call that another thread came between stands in two, which are joined.
fn whole_calls(trace: &str) -> Vec<String> {
    let mut calls = Vec::new();
    // By process: what its call was asked for.
    let mut begun: HashMap<&str, &str> = HashMap::new();
    for line in trace.lines() {
        let process = line.split_whitespace().next().unwrap_or_default();
        if let Some(call) = line.strip_suffix("<unfinished ...>") {
            begun.insert(process, call);
        } else if let Some((_, rest)) = line.split_once(" resumed>") {
            calls.push(begun.remove(process).unwrap_or_default().to_owned() + rest);
        } else {
            calls.push(line.to_owned());
        }
    }
    // Those that the process ended in.
    calls.extend(begun.into_values().map(str::to_owned));
    calls
}

#[test]
fn a_call_that_another_came_between_is_read_whole() {
    let trace = "7 socket(AF_UNIX, 1, 0 <unfinished ...>\n\
                 8  openat(3, \"a\", O_CREAT <unfinished ...>\n\
                 7 <... socket resumed>)             = 13\n\
                 9 rmdir(\"b\") = 0\n";
    let expected = [
        "7 socket(AF_UNIX, 1, 0 )             = 13",
        "9 rmdir(\"b\") = 0",
        "8  openat(3, \"a\", O_CREAT ",
    ];
    assert_eq!(whole_calls(trace), expected);
}

#[test]
fn a_file_that_is_written_and_a_network_that_is_reached_for_are_seen() {
    let calls =
        calls("a_file_that_is_written_and_a_network_that_is_reached_for_are_seen", None, || {
            drop(Library::load(&built_bundle()).unwrap());
            let file = std::env::temp_dir().join(format!("plimsoll-seen-{}", std::process::id()));
            std::fs::write(&file, "x").unwrap();
            std::fs::remove_file(&file).unwrap();
            drop(std::net::UdpSocket::bind("127.0.0.1:0"));
        });
    let Some(calls) = calls else { return };
    assert_eq!((writes(&calls).len(), network(&calls).len()), (2, 1));
}

/// Those of the calls that change a file or make one.
fn writes(calls: &[String]) -> Vec<&String> {
    let is_write = |call: &&String| {
        let opens = call.contains("open");
        let to_write = ["O_WRONLY", "O_RDWR", "O_CREAT"].iter().any(|how| call.contains(how));
        let changes = !opens && !call.contains("socket(");
        // Devices and memory are no files: the null device, graphics, shared memory of the window.
        let no_file = ["\"/dev/", "\"/proc/", "\"/memfd:"].iter().any(|path| call.contains(path));
        (changes || to_write) && !no_file && !call.contains("= -1 ")
    };
    calls.iter().filter(is_write).collect()
}

/// Those that reach for a network: any socket but one within the machine.
fn network(calls: &[String]) -> Vec<&String> {
    calls.iter().filter(|call| call.contains("socket(") && !call.contains("AF_UNIX")).collect()
}

fn play(host: &mut Host) {
    let song = song_like(181, 48_000, 5.0);
    let telling = Telling::new(Tells::Everything);
    host.run(&song, &play_once(&song), &telling, &Blocks::Fixed(512), Buffers::Separate).unwrap();
}

#[test]
fn a_scan_opens_no_file_to_write_and_no_socket() {
    let calls = calls("a_scan_opens_no_file_to_write_and_no_socket", None, || {
        let library = Library::load(&built_bundle()).unwrap();
        assert_eq!(library.descriptors().len(), 1);
        let mut host = Host::new(&library).unwrap();
        host.params().unwrap();
        host.layouts().unwrap();
        host.save_state().unwrap();
    });
    let Some(calls) = calls else { return };
    assert_eq!(writes(&calls), Vec::<&String>::new());
    let sockets: Vec<_> = calls.iter().filter(|call| call.contains("socket(")).collect();
    assert_eq!(sockets, Vec::<&String>::new());
}

#[test]
fn playing_with_the_editor_open_writes_nothing_and_knows_no_network() {
    let test = "playing_with_the_editor_open_writes_nothing_and_knows_no_network";
    let server = match std::env::var_os(TRACED) {
        Some(_) => None,
        None => match XServer::start(Like::default()) {
            Ok(server) => Some(server),
            Err(error) => return skip(&format!("no X server in memory ({error}); install xvfb")),
        },
    };
    let display = server.as_ref().map(|server| server.display.as_str());
    let calls = calls(test, display, || {
        let parent = ParentWindow::open(1200, 700).unwrap();
        let mut host = Host::new(&Library::load(&built_bundle()).unwrap()).unwrap();
        host.activate(48_000, 512).unwrap();
        let plugin = host.instance().plugin_handle();
        let gui: PluginGui = plugin.get_extension().unwrap();
        let how = GuiConfiguration { api_type: GuiApiType::X11, is_floating: false };
        gui.create(&plugin, how).unwrap();
        // SAFETY: the window lives longer than the editor.
        #[allow(unsafe_code)]
        unsafe {
            gui.set_parent(&plugin, Window::from_x11_handle(u64::from(parent.id))).unwrap();
        }
        let _ = gui.show(&plugin);
        for _ in 0..5 {
            play(&mut host);
            std::thread::sleep(Duration::from_millis(200));
        }
        // The theme, the log, a mark: what a user clicks who saves nothing.
        for (x, y) in [(1_080, 33), (841, 33), (41, 532)] {
            parent.click(x, y).unwrap();
        }
        std::thread::sleep(Duration::from_millis(500));
        let state = host.save_state().unwrap();
        host.load_state(&state).unwrap();
        gui.destroy(&host.instance().plugin_handle());
        std::thread::sleep(Duration::from_millis(200));
    });
    let Some(calls) = calls else { return };
    assert_eq!(writes(&calls), Vec::<&String>::new());
    assert_eq!(network(&calls), Vec::<&String>::new());
    // The window is seen, so that a network would be.
    assert!(calls.iter().any(|call| call.contains("socket(AF_UNIX")), "no window was opened");
}
