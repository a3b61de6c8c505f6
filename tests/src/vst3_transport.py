"""Plays a file of floats through a VST3 plugin in dawdreamer, which has a transport.

usage: vst3_transport.py PLUGIN.vst3 FOLDER RATE_HZ

FOLDER/input.f32: two channels one behind the other. Writes output.f32 and, as the plugin saved it,
played.state.
"""

import sys

import dawdreamer
import numpy

from vst3_state import component_state


def main(path, folder, rate_hz):
    audio = numpy.fromfile(f"{folder}/input.f32", dtype="<f4").reshape(2, -1)
    engine = dawdreamer.RenderEngine(rate_hz, 512)
    engine.set_bpm(120)
    song = engine.make_playback_processor("song", audio)
    plugin = engine.make_plugin_processor("plimsoll", path)
    engine.load_graph([(song, []), (plugin, ["song"])])
    engine.render(audio.shape[1] / rate_hz)
    engine.get_audio()[:, : audio.shape[1]].astype("<f4").tofile(f"{folder}/output.f32")
    plugin.save_state(f"{folder}/juce.state")
    with open(f"{folder}/juce.state", "rb") as file, open(f"{folder}/played.state", "wb") as out:
        out.write(component_state(file.read()))
    print("done")


main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
