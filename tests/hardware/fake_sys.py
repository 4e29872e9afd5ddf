"""Trees of /sys as the kernel's drivers of sensors make them.

From the kernel's documentation and source: the names and units of the values (ABI/testing/
sysfs-bus-iio, hwmon/sht3x.rst, hwmon/sht4x.rst, sht4x.c, dht11.c, bmp280-core.c) and the cells of
`gpios` (the Raspberry Pi's dht11-overlay.dts). That an IIO device lies below its I2C device, as in
bus/i2c/devices/i2c-1/1-0077/iio:device0: raspberrypi/linux, issue 4896. All other folders and
links: from memory.
"""

import struct
from collections.abc import Mapping
from pathlib import Path

SHT3X = {
    "name": "sht3x\n",
    "temp1_input": "13240\n",
    "humidity1_input": "76310\n",
    "heater_enable": "0\n",
    "update_interval": "0\n",
}
SHT4X = {
    "name": "sht4x\n",
    "temp1_input": "13240\n",
    "humidity1_input": "76310\n",
    "update_interval": "2000\n",
}
BME280 = {
    "name": "bme280\n",
    "in_temp_input": "13240\n",
    "in_humidityrelative_input": "76310\n",
    "in_pressure_input": "98.761718750\n",
}
# Kernels from 2024 on also show raw values; the humidity's scale is 1000 / 1024 (bmp280-core.c).
BME280_RAW = {
    "name": "bme280\n",
    "in_temp_raw": "1324\n",
    "in_temp_scale": "10.000000000\n",
    "in_humidityrelative_raw": "78141\n",
    "in_humidityrelative_scale": "0.976562500\n",
}
DHT11 = {
    "name": "dht11@0\n",
    "in_temp_input": "13200\n",
    "in_humidityrelative_input": "76300\n",
}


def fill(folder: Path, files: Mapping[str, str]) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text)
    return folder


def add_i2c(
    root: Path, files: Mapping[str, str], *, place: str = "1-0044", below: str = "hwmon/hwmon3"
) -> Path:
    """Add a sensor on a bus and return the folder with its values."""
    device = fill(root / "devices/platform/soc/fe804000.i2c/i2c-1" / place, {"name": files["name"]})
    link = root / "bus/i2c/devices" / place
    link.parent.mkdir(parents=True, exist_ok=True)
    link.symlink_to(device)
    return fill(device / below, files)


def add_dht11(
    root: Path, pin: int, files: Mapping[str, str] = DHT11, *, number: int = 0, node: str = ""
) -> Path:
    """Add a DHT22 on a pin and return the folder with its values."""
    node = node or f"dht11@{pin:x}"
    device = root / "devices/platform" / node
    tree = root / "firmware/devicetree/base" / node
    tree.mkdir(parents=True)
    (tree / "gpios").write_bytes(struct.pack(">III", 7, pin, 0))
    (tree / "compatible").write_bytes(b"dht11\0")
    device.mkdir(parents=True)
    (device / "of_node").symlink_to(tree)
    driver = root / "bus/platform/drivers/dht11"
    driver.mkdir(parents=True, exist_ok=True)
    for file in ("bind", "unbind", "uevent"):
        (driver / file).touch()
    (driver / node).symlink_to(device)
    return fill(device / f"iio:device{number}", files)
