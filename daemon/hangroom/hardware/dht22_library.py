"""A DHT22 read through adafruit-circuitpython-dht. Runs in a sensor's child only."""

from importlib import import_module

from hangroom.hardware.sensor_child import Measure


def open_dht22(pin: int) -> Measure:
    """Prepare the library's driver on a GPIO (BCM number)."""
    adafruit_dht = import_module("adafruit_dht")
    gpio = getattr(import_module("board"), f"D{pin}")

    def measure() -> tuple[float, float]:
        # A fresh driver object each time: a used one hands out its previous values, without an
        # error, when it is read within two seconds of a failed measurement. Without pulseio there
        # is no helper program to lose and no signal handler to be replaced.
        sensor = adafruit_dht.DHT22(gpio, use_pulseio=False)
        sensor.measure()
        return sensor.temperature, sensor.humidity

    return measure
