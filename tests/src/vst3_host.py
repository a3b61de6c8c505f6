"""Plays a file of floats through a VST3 plugin in pedalboard.

usage: vst3_host.py PLUGIN.vst3 FOLDER RATE_HZ

FOLDER/input.f32: two channels one behind the other. Writes output-FRAMES.f32 for each block size,
and what state the plugin saved: first.state after playing, second.state out of a fresh instance
that was given the first. What pedalboard says about the plugin goes to stdout, a line each.
"""

import sys

import numpy
import pedalboard

from vst3_state import component_state

BLOCKS_FRAMES = (512, 1, 64, 1000, 8192)


def main(path, folder, rate_hz):
    audio = numpy.fromfile(f"{folder}/input.f32", dtype="<f4").reshape(2, -1)
    plugin = pedalboard.load_plugin(path)
    print("name", plugin.name)
    print("effect", plugin.is_effect)
    print("latency", plugin.reported_latency_samples)
    print("parameters", *sorted(plugin.parameters))
    for frames in BLOCKS_FRAMES:
        # The whole for the first size, which is what is measured; a second for the others.
        part = audio if frames == BLOCKS_FRAMES[0] else audio[:, :rate_hz]
        target = plugin if frames == BLOCKS_FRAMES[0] else pedalboard.load_plugin(path)
        target(part, rate_hz, buffer_size=frames, reset=False).tofile(f"{folder}/output-{frames}.f32")
    with open(f"{folder}/first.state", "wb") as file:
        file.write(component_state(plugin.raw_state))
    fresh = pedalboard.load_plugin(path)
    fresh.raw_state = plugin.raw_state
    with open(f"{folder}/second.state", "wb") as file:
        file.write(component_state(fresh.raw_state))
    for _ in range(20):
        other = pedalboard.load_plugin(path)
        other(audio[:, : rate_hz // 10], rate_hz)
        del other
    print("done")


main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
