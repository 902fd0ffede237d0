"""What is done to the HTML of every page and paper."""

from __future__ import annotations

import pytest

from rationlp.report.render import whole_measures


@pytest.mark.parametrize(
    ("text", "held"),
    [
        ("at least 0.1641 %, 4 % (5 %)", ["0.1641 %", "4 %", "5 %"]),
        ("2025-10-06 to 3,000 lb; mix 1 ASK, the worst of 2", ["3,000 lb"]),
        ("29.93 t ± 0.98 t", ["29.93 t", "± 0.98 t"]),
        ("964.56 EUR, 243.50 EUR/t, 7 CFR 205", ["964.56 EUR", "243.50 EUR/t"]),
        ("Vitamin B6 is 2.34 of 2.9 mg/kg; 57.5 lb/bu; 20 °C", ["2.9 mg/kg", "57.5 lb/bu", "20 °C"]),
        ("&lt;b&gt; 12 head &lt;/b&gt;", ["12 head"]),
        ("5 tonnes, 4 times", []),
    ],
)
def test_no_line_ends_between_a_number_and_its_unit(text, held):
    """At 360 pixels every other line did; no letter is another, so that a sentence is found as it was told."""
    done = whole_measures(f"<p>{text}</p>", "EUR")
    for measure in held:
        assert f'<span class="id">{measure}</span>' in done
    assert done.count("<span") == len(held)
    assert done.replace('<span class="id">', "").replace("</span>", "") == f"<p>{text}</p>"


@pytest.mark.parametrize(
    "text",
    [
        '<p title="3 kg">x</p>',
        "<svg><title>In 3 kg</title><desc>3 kg</desc><text>3 kg</text></svg>",
        "<script>3 kg</script>",
        "<option>3 kg</option>",
    ],
)
def test_attributes_pictures_and_the_script_stay_as_they_are(text):
    assert whole_measures(text, "EUR") == text
