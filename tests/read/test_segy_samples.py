from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gridmap.read.segy_layout import FORMATS
from gridmap.read.segy_samples import all_finite, decode, ibm_to_ieee, sample_view
from gridmap.read.segy_write import ieee_to_ibm

# Known words. -118.625 = C276A000 and 1 = 41100000 are the worked examples of the article "IBM hexadecimal
# floating-point" (from memory); the others follow from sign, 16**(exponent - 64) and mantissa / 2**24.
KNOWN = {
    0xC276A000: -118.625,
    0x41100000: 1.0,
    0x00000000: 0.0,
    0x42640000: 100.0,
    0x40800000: 0.5,
    0xC1A00000: -10.0,
    0x46FFFFFF: 16777215.0,
    0x45000001: 16.0**5 / 2**24,
}


def decoded(*words: int) -> np.ndarray:
    out = np.full((1, len(words)), np.nan, dtype=np.float32)
    ibm_to_ieee(np.array([words], dtype=">u4"), out)
    return out[0]


def formula(word: int) -> float:
    """The definition, in exact arithmetic."""
    return (-1) ** (word >> 31) * float((word & 0xFFFFFF) * 2.0 ** (4 * ((word >> 24 & 127) - 64) - 24))


def test_known_words() -> None:
    """Published and hand-worked encodings decode to their numbers, together and one by one."""
    np.testing.assert_array_equal(decoded(*KNOWN), np.array(list(KNOWN.values()), dtype=np.float32))
    for word, value in KNOWN.items():
        assert decoded(word)[0] == np.float32(value)


@given(st.lists(st.integers(0, 2**32 - 1), min_size=1, max_size=20))
def test_every_word_decodes_by_the_definition(words: list[int]) -> None:
    """Any 32 bits give the nearest float32 of the definition; out of range is infinite, with its sign."""
    with np.errstate(over="ignore"):
        expected = np.array([formula(w) for w in words], dtype=np.float64).astype(np.float32)
    np.testing.assert_array_equal(decoded(*words), expected)


@given(st.lists(st.floats(-(2.0**100), 2.0**100, width=32), min_size=1, max_size=20))
def test_encoding_and_decoding_keeps_21_bits(values: list[float]) -> None:
    """A hexadecimal first digit may cost three bits of 24, no more."""
    given_values = np.array([values], dtype=np.float32)
    out = np.empty_like(given_values)
    ibm_to_ieee(ieee_to_ibm(given_values), out)
    small = np.abs(given_values) < 1e-37
    np.testing.assert_allclose(out[~small], given_values[~small], rtol=2.0**-21)
    np.testing.assert_allclose(out[small], given_values[small], atol=1e-38)


def test_bits_of_ieee_floats_are_kept_in_both_orders() -> None:
    """Swapping bytes touches no bit: minus zero and the smallest subnormal come through."""
    values = np.array([[-0.0, 1e-45, 3.4e38, -1.5]], dtype=np.float32)
    for order in (">", "<"):
        raw = (
            np.frombuffer(bytes(240) + values.astype(order + "f4").tobytes(), np.uint8).reshape(1, -1).copy()
        )
        out = np.empty_like(values)
        decode(sample_view(raw, 240, 4, FORMATS[5], order), FORMATS[5], out)  # type: ignore[arg-type]
        assert out.tobytes() == values.tobytes()


@pytest.mark.parametrize("bad", [np.nan, -np.nan, np.inf, -np.inf])
def test_one_bad_value_anywhere_is_found(bad: float) -> None:
    """Values whose sum would overflow are finite; one NaN or infinity among them is found."""
    values = np.full((5, 40), 3e38, dtype=np.float32)
    assert all_finite(values)
    assert all_finite(-values)
    values[3, 17] = bad
    assert not all_finite(values)


@pytest.mark.parametrize("mantissa", [0, 1, 0x100000, 0xFFFFFF])
def test_every_exponent_alone_decodes_by_the_definition(mantissa: int) -> None:
    """Each of 128 exponents, in a block of its own: zero is zero, overflow infinite, nothing wraps around."""
    for top in range(256):
        word = top << 24 | mantissa
        with np.errstate(over="ignore"):
            expected = np.float64(formula(word)).astype(np.float32)
        assert decoded(word)[0] == expected, hex(word)
