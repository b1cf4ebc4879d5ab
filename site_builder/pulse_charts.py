"""A log of pulses → the data of its chart: voltage over current, the found pulses marked. Computes nothing."""

from __future__ import annotations

from site_builder.charts import Chart
from site_builder.derive.results import PulsePicture


def pulses(picture: PulsePicture) -> Chart:
    """Voltage and current against time [s, V, A], and from when to when each pulse was read."""
    rows = zip(picture.time_s, picture.voltage_v, picture.current_a, strict=True)
    first = float(picture.time_s[0])
    volts, most = picture.voltage_v, float(picture.current_a.max())
    room = 0.1 * float(volts.max() - volts.min()) or 0.1
    at = [(float(picture.time_s[before]), float(picture.time_s[under])) for before, under in picture.found]
    read = sorted({row for pulse in picture.found for row in pulse})
    step = next((step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500) if most <= 2.5 * step), 1000)
    return Chart(
        kind="pulses",
        datasets={
            "rows": "s,volts,amps\n" + "".join(f"{t - first:.5g},{v:.5g},{a:.4g}\n" for t, v, a in rows),
            "found": "from,to\n" + "".join(f"{start - first:.5g},{end - first:.5g}\n" for start, end in at),
            "read": "s,volts\n" + "".join(f"{picture.time_s[row] - first:.5g},{volts[row]:.5g}\n" for row in read),
        },
        numbers={
            "right": float(picture.time_s[-1]) - first,
            "bottom": float(volts.min()) - room,
            "top": float(volts.max()) + room,
            "most": most * 1.05,
            "currents": [float(step * i) for i in range(3) if step * i <= most],
        },
    )
