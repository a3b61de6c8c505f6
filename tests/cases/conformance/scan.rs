//! What happens while a host scans: library loaded, descriptors read, an instance made and asked,
//! nothing activated.

use super::{case, library};
use plimsoll_tests::child;
use plimsoll_tests::host::Host;
use std::process::Command;

/// All that a host asks of a plugin that it meets for the first time.
fn scan() {
    let library = library();
    assert_eq!(library.descriptors().len(), 1);
    let mut host = Host::new(&library).unwrap();
    assert_eq!(host.ports(true).unwrap().len(), host.layouts().unwrap().len().min(1));
    assert_eq!(host.ports(false).unwrap().len(), 1);
    assert!(!host.params().unwrap().is_empty());
    assert_eq!(host.latency_frames().unwrap(), 0);
}

/// 50 ms on a processor that does only 1 000 instructions in a microsecond, as the slowest ones do
/// that a studio still has; the rest of this process, its start included, counts as well.
const MAX_INSTRUCTIONS: u64 = 50_000_000;

#[test]
fn a_scan_takes_less_than_50_ms() {
    const NAME: &str = "scan::a_scan_takes_less_than_50_ms";
    const COUNTED: &str = "PLIMSOLL_COUNTED_SCAN";
    if std::env::var_os(COUNTED).is_some() {
        scan();
        return;
    }
    let has_valgrind = Command::new("valgrind").arg("--version").output();
    if !has_valgrind.is_ok_and(|output| output.status.success()) {
        child::skip("valgrind is not installed (apt-get install valgrind)");
        return;
    }
    let mut valgrind = Command::new("valgrind");
    valgrind.args(["--tool=callgrind", "--callgrind-out-file=/dev/null"]);
    valgrind.arg(std::env::current_exe().unwrap());
    valgrind.args(["--exact", NAME, "--test-threads=1"]).env(COUNTED, "1");
    let outcome = child::end(&mut valgrind);
    let log = &outcome.said[1];
    assert!(outcome.status.is_some_and(|status| status.success()), "{log}");
    let line = log.lines().find_map(|line| line.split_once("Collected : "));
    let instructions: u64 = line.expect(log).1.trim().parse().unwrap();
    println!("a scan and the process around it: {instructions} instructions");
    assert!(instructions < MAX_INSTRUCTIONS, "{instructions}");
}

/// An instance that is only asked takes less than this. The record, which is what is large, takes
/// 32 MB; an allocator hands out its first megabyte for little.
#[cfg(target_os = "linux")]
const MAX_ASLEEP_BYTES: u64 = 2 << 20;

#[cfg(target_os = "linux")]
#[test]
fn nothing_large_is_allocated_before_activation() {
    case("scan::nothing_large_is_allocated_before_activation", |first| {
        let files = || std::fs::read_dir("/proc/self/fd").unwrap().count();
        let anonymous = || super::memory_bytes("RssAnon");
        // The first instance of the process brings what all share.
        let (memory_before, files_before) = (anonymous(), files());
        let mut host = Host::new(&library()).unwrap();
        host.params().unwrap();
        host.save_state().unwrap();
        let taken = anonymous().saturating_sub(memory_before);
        assert!(taken < MAX_ASLEEP_BYTES, "an instance takes {taken} bytes before activation");
        assert_eq!(files(), files_before, "a file is open");
        host.activate(super::RATE_HZ, 512).unwrap();
        let active = anonymous().saturating_sub(memory_before);
        assert!(active > 8 * MAX_ASLEEP_BYTES, "this sees nothing: {active} bytes when active");
        first.save_state().unwrap();
    });
}

#[test]
fn scanning_again_and_again_leaves_nothing_behind() {
    case("scan::scanning_again_and_again_leaves_nothing_behind", |_| {
        for _ in 0..20 {
            scan();
        }
        #[cfg(target_os = "linux")]
        {
            let before = super::memory_bytes("RssAnon");
            let threads = || std::fs::read_dir("/proc/self/task").unwrap().count();
            let threads_before = threads();
            for _ in 0..200 {
                scan();
            }
            let more = super::memory_bytes("RssAnon").saturating_sub(before);
            assert!(more < MAX_ASLEEP_BYTES, "200 scans leave {more} bytes");
            assert_eq!(threads(), threads_before, "threads are left");
        }
    });
}
