"""The state of a VST3 plugin, as hosts made with JUCE keep it."""


def component_state(raw):
    """The plugin's own bytes out of the XML in which JUCE keeps them."""
    text = raw.decode("latin-1").split("<IComponent>")[1].split("</IComponent>")[0]
    length, digits = text.split(".", 1)
    alphabet = ".ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+"
    # Six bits a digit, the lowest first.
    bits = sum(alphabet.index(digit) << 6 * place for place, digit in enumerate(digits))
    return bits.to_bytes((len(digits) * 6 + 7) // 8, "little")[: int(length)]
