//! Defects of the framework that no plugin can mend: kept here so that an update which mends one
//! is seen, and for the report to its authors.

use super::library;
use clack_extensions::params::{ParamInfoBuffer, PluginParams};
use plimsoll_tests::child;
use plimsoll_tests::host::Host;

/// `clap/ext/params.h`: `get_info` gives false where there is no parameter. nice-plug 0.4.2 compares
/// the index with `>` where it needs `>=` (`ext_params_get_info`), and the panic ends the host. No
/// host is known to ask: `count` is there.
#[test]
fn a_parameter_behind_the_last_one_ends_the_host() {
    let name = "framework::a_parameter_behind_the_last_one_ends_the_host";
    let outcome = child::outcome(name, &[], || {
        let mut host = Host::new(&library()).unwrap();
        let plugin = host.instance().plugin_handle();
        let params: PluginParams = plugin.get_extension().unwrap();
        let count = params.count(&plugin);
        let mut buffer = ParamInfoBuffer::new();
        assert!(params.get_info(&plugin, count + 1, &mut buffer).is_none());
        eprintln!("asking for parameter {count} of {count}");
        assert!(params.get_info(&plugin, count, &mut buffer).is_none());
    });
    let Some(outcome) = outcome else { return };
    let [_, log] = outcome.said;
    assert!(log.contains("asking for parameter"), "{log}");
    assert!(
        !outcome.status.is_some_and(|status| status.success()),
        "the framework is mended: move this to `parameters` and let it pass"
    );
}
