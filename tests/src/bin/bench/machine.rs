//! The machine that the figures are from.

use std::process::Command;

/// Processor, cores, compiler, on one line.
pub fn line() -> String {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    format!("{}, {cores} cores, {}", processor(), compiler())
}

fn processor() -> String {
    let text = std::fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let field = |name: &str| {
        let line = text.lines().find(|line| line.starts_with(name))?;
        Some(line.split_once(':')?.1.trim().to_owned())
    };
    let Some(model) = field("model name") else {
        return format!("unknown {} processor", std::env::consts::ARCH);
    };
    match (field("cpu family"), field("model\t")) {
        (Some(family), Some(number)) => format!("{model} (family {family}, model {number})"),
        _ => model,
    }
}

/// The compiler that `cargo` finds.
pub fn compiler() -> String {
    let output = Command::new("rustc").arg("--version").output();
    output.map_or_else(
        |_| "unknown compiler".to_owned(),
        |output| String::from_utf8_lossy(&output.stdout).trim().to_owned(),
    )
}
