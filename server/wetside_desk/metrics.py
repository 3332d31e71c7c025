"""Figures for Prometheus, read when they are asked for. Base units, names by its conventions."""

from __future__ import annotations

from collections.abc import Iterator

from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, InfoMetricFamily
from prometheus_client.metrics_core import Metric
from prometheus_client.registry import Collector

from wetside.errors import JournalError
from wetside_desk import __version__, live
from wetside_desk.context import Desk

MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"


class _Desk(Collector):
    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def collect(self) -> Iterator[Metric]:
        """All figures of this moment."""
        yield InfoMetricFamily("wetside_desk", "Version of the desk.", {"version": __version__})
        yield from self._journal()
        yield from self._station()

    def _journal(self) -> Iterator[Metric]:
        up = GaugeMetricFamily("wetside_journal_readable", "1 when the journal can be read.")
        try:
            health = self._desk.reader.health()
        except JournalError:
            up.add_metric([], 0)
            yield up
            return
        up.add_metric([], 1)
        yield up
        yield CounterMetricFamily("wetside_runs", "Runs in the journal.", health.runs)
        yield CounterMetricFamily("wetside_samples", "Readings in the journal.", health.samples)
        yield GaugeMetricFamily(
            "wetside_journal_size_bytes",
            "Size of the journal with its log.",
            health.size_bytes + health.wal_bytes,
        )
        yield GaugeMetricFamily(
            "wetside_storage_free_bytes", "Free where the journal lies.", health.free_bytes
        )

    def _station(self) -> Iterator[Metric]:
        now = live.read(self._desk.settings.live_file)
        running = now.presence is live.Presence.RUNNING
        yield GaugeMetricFamily("wetside_station_up", "1 when the station runs.", float(running))
        if now.age_seconds is not None:
            yield GaugeMetricFamily(
                "wetside_station_silence_seconds",
                "Time since the station last spoke.",
                now.age_seconds,
            )
        if now.live is None or not running:
            return
        yield GaugeMetricFamily(
            "wetside_run_active", "1 while a run is open.", float(now.live.run is not None)
        )
        yield GaugeMetricFamily(
            "wetside_clock_trusted", "1 when the clock is set.", float(now.live.trusted)
        )
        trouble = GaugeMetricFamily(
            "wetside_probe_trouble", "1 for each probe without a usable reading.", labels=["probe"]
        )
        for probe in now.live.troubles:
            trouble.add_metric([probe], 1)
        yield trouble
        outlook = now.live.outlook
        if outlook is not None:
            believed = GaugeMetricFamily(
                "wetside_temperature_celsius", "Believed temperature.", labels=["of"]
            )
            for name, found in (("developer", outlook.developer), ("bath", outlook.bath)):
                if found is not None:
                    believed.add_metric([name], found.celsius)
            yield believed


def text(desk: Desk) -> bytes:
    """The figures in the exposition format."""
    registry = CollectorRegistry(auto_describe=False)
    registry.register(_Desk(desk))
    return generate_latest(registry)
