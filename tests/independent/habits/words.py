"""How other trades head a column: headings by quantity, with the unit they write in.

An entry is (heading, unit, sure); the unit is of `UNITS`, and stands in the heading where a trade writes it.
Written from the headings of open measurements, the letters of ISO 80000 and IEC 60027, the codes of UCUM and
the habits of laboratories, boats, rides and spreadsheets; not from any reader's list.
"""

from __future__ import annotations

UNITS: dict[str, tuple[float, float]] = {
    "1": (1, 0),
    "V": (1, 0),
    "mV": (1e3, 0),
    "A": (1, 0),
    "mA": (1e3, 0),
    "mAh": (1, 0),
    "Ah": (1e-3, 0),
    "As": (3.6, 0),
    "W": (1, 0),
    "kW": (1e-3, 0),
    "Wh": (1, 0),
    "kWh": (1e-3, 0),
    "mWh": (1e3, 0),
    "J": (3600, 0),
    "kJ": (3.6, 0),
    "%": (100, 0),
    "us": (1000, 1000),
    "rpm": (1, 0),
    "1/s": (1 / 60, 0),
    "krpm": (1e-3, 0),
    "N": (1, 0),
    "gf": (1000 / 9.80665, 0),
    "kgf": (1 / 9.80665, 0),
    "ozf": (1 / 0.27801385, 0),
    "lbf": (1 / 4.4482216, 0),
    "mN": (1e3, 0),
    "Nm": (1, 0),
    "mNm": (1e3, 0),
    "Ncm": (100, 0),
    "C": (1, 0),
    "F": (1.8, 32),
    "K": (1, 273.15),
    "m/s": (1, 0),
    "km/h": (3.6, 0),
    "kn": (1 / 0.514444, 0),
    "mph": (1 / 0.44704, 0),
    "m": (1, 0),
    "ft": (1 / 0.3048, 0),
    "deg": (1, 0),
}
"""Unit → (factor, offset) from the truth's own unit to what is written."""

Words = dict[str, list[tuple[str, str, bool]]]

ENGLISH: Words = {
    "voltage": [
        ("Voltage (V)", "V", True),
        ("Battery voltage [V]", "V", True),
        ("Pack voltage (mV)", "mV", True),
        ("Supply voltage, V", "V", True),
        ("Terminal voltage (V)", "V", True),
    ],
    "current": [
        ("Current (A)", "A", True),
        ("Battery current [A]", "A", True),
        ("Current (mA)", "mA", True),
        ("Supply current, A", "A", True),
        ("Load current (A)", "A", True),
    ],
    "charge": [
        ("Charge drawn (mAh)", "mAh", True),
        ("Capacity (Ah)", "Ah", True),
        ("Charge (As)", "As", True),
        ("Consumed charge [mAh]", "mAh", True),
        ("Discharge capacity (Ah)", "Ah", True),
    ],
    "power": [
        ("Power (W)", "W", True),
        ("Input power [W]", "W", True),
        ("Electrical power (kW)", "kW", True),
    ],
    "energy": [("Energy (Wh)", "Wh", True), ("Energy used [Wh]", "Wh", True), ("Energy (J)", "J", False)],
    "command": [
        ("Throttle (%)", "%", True),
        ("Throttle command [%]", "%", True),
        ("Command (µs)", "us", True),
    ],
    "rpm": [
        ("Shaft speed (rpm)", "rpm", True),
        ("Propeller speed [rpm]", "rpm", True),
        ("Motor speed (rpm)", "rpm", True),
        ("Rotational speed (1/s)", "1/s", False),
    ],
    "thrust": [
        ("Thrust (N)", "N", True),
        ("Thrust (gf)", "gf", True),
        ("Thrust [lbf]", "lbf", True),
        ("Thrust (oz)", "ozf", True),
        ("Thrust (lb)", "lbf", True),
        ("Static thrust (kgf)", "kgf", True),
    ],
    "torque": [
        ("Torque (N·m)", "Nm", True),
        ("Torque [Nm]", "Nm", True),
        ("Shaft torque (N·cm)", "Ncm", False),
    ],
    "motor_c": [
        ("Motor temperature (°C)", "C", True),
        ("Motor case temp [°C]", "C", True),
        ("Motor temp (°F)", "F", True),
    ],
    "esc_c": [("Controller temperature (°C)", "C", True), ("ESC temp [°C]", "C", True)],
    "pack_c": [("Battery temperature (°C)", "C", True), ("Pack temp [°C]", "C", True)],
    "air_c": [("Ambient temperature (°C)", "C", True), ("Air temp [°C]", "C", True)],
    "ground": [("Ground speed (m/s)", "m/s", True), ("GPS speed [km/h]", "km/h", True)],
    "air": [("Airspeed (m/s)", "m/s", True), ("True airspeed [kt]", "kn", True)],
    "height": [
        ("Altitude (m)", "m", True),
        ("Height above ground [m]", "m", True),
        ("Altitude (ft)", "ft", True),
    ],
    "cell": [("Cell {} (V)", "V", True), ("Cell voltage {} [V]", "V", True), ("Cell {} [mV]", "mV", True)],
}

SYMBOLS: Words = {
    "voltage": [("U/V", "V", True), ("U [V]", "V", True), ("U / mV", "mV", True), ("U_bat/V", "V", True)],
    "current": [("I/A", "A", True), ("I [A]", "A", True), ("I / mA", "mA", True), ("I_bat/A", "A", True)],
    "charge": [
        ("Q/(A·h)", "Ah", True),
        ("Q [mAh]", "mAh", True),
        ("Q / As", "As", True),
        ("Q [mA.h]", "mAh", True),
    ],
    "power": [("P/W", "W", True), ("P [W]", "W", True), ("P_el / W", "W", True)],
    "energy": [("E/Wh", "Wh", True), ("E [W.h]", "Wh", True), ("W [W·h]", "Wh", False)],
    "rpm": [
        ("n/(1/min)", "rpm", True),
        ("n [min⁻¹]", "rpm", True),
        ("n [/min]", "rpm", True),
        ("n/s⁻¹", "1/s", False),
    ],
    "thrust": [("F/N", "N", False), ("T [N]", "N", False), ("F_thrust/N", "N", True)],
    "torque": [("M/(N·m)", "Nm", False), ("Q [N m]", "Nm", False)],
    "motor_c": [("ϑ_motor/°C", "C", True), ("T_motor [Cel]", "C", True), ("theta_motor/°C", "C", True)],
    "pack_c": [("T_bat/°C", "C", True), ("ϑ_bat/°C", "C", True), ("T_batt [Cel]", "C", True)],
    "air_c": [("T_amb/°C", "C", True), ("T_air [K]", "K", True)],
    "air": [("v_air/(m/s)", "m/s", True), ("V_inf [m/s]", "m/s", False)],
    "cell": [("U_cell{}/V", "V", True), ("U_{}/V", "V", False), ("Ucell{} [V]", "V", True)],
}

UNDERSCORED: Words = {
    "voltage": [
        ("battery_voltage_v", "V", True),
        ("voltage_mV", "mV", True),
        ("pack_V", "V", True),
        ("vbat_mv", "mV", True),
    ],
    "current": [
        ("battery_current_a", "A", True),
        ("current_mA", "mA", True),
        ("pack_A", "A", True),
        ("ibat_ma", "mA", True),
    ],
    "charge": [
        ("charge_mah", "mAh", True),
        ("consumed_Ah", "Ah", True),
        ("charge_As", "As", True),
        ("used_mAh", "mAh", True),
    ],
    "power": [("power_w", "W", True), ("elec_power_W", "W", True)],
    "energy": [("energy_wh", "Wh", True), ("energy_W_h", "Wh", True)],
    "command": [("throttle_pct", "%", True), ("throttle_us", "us", True)],
    "rpm": [("motor_rpm", "rpm", True), ("prop_speed_rpm", "rpm", True)],
    "thrust": [
        ("thrust_gf", "gf", True),
        ("thrust_N", "N", True),
        ("thrust_lbf", "lbf", True),
        ("thrust_ozf", "ozf", True),
    ],
    "torque": [("torque_N_m", "Nm", True), ("torque_nm", "Nm", True)],
    "motor_c": [
        ("motor_temp_degC", "C", True),
        ("motor_temperature_c", "C", True),
        ("motor_temp_F", "F", False),
    ],
    "esc_c": [("controller_temp_degC", "C", True), ("esc_temp_c", "C", True)],
    "pack_c": [("battery_temp_degC", "C", True), ("pack_temp_K", "K", False)],
    "air_c": [("ambient_degC", "C", True), ("air_temp_c", "C", True)],
    "ground": [("ground_speed_m_s", "m/s", True), ("gps_speed_km_h", "km/h", True)],
    "air": [("airspeed_m_s", "m/s", True), ("airspeed_kt", "kn", True)],
    "height": [("altitude_m", "m", True), ("altitude_ft", "ft", True)],
    "cell": [("cell_{}_v", "V", True), ("cell{}_mV", "mV", True), ("vcell_{}_V", "V", True)],
}

TERSE: Words = {
    "voltage": [
        ("voltage", "V", True),
        ("U", "V", True),
        ("volt", "V", True),
        ("mV", "mV", True),
        ("Vbat", "V", True),
    ],
    "current": [
        ("current", "A", True),
        ("I", "A", True),
        ("amp", "A", True),
        ("mA", "mA", True),
        ("Ibat", "A", True),
    ],
    "charge": [("mAh", "mAh", True), ("Ah", "Ah", True)],
    "power": [("watt", "W", True), ("W", "W", True), ("P", "W", True)],
    "energy": [("Wh", "Wh", True)],
    "rpm": [("rpm", "rpm", True), ("RPM", "rpm", True)],
    "thrust": [("thrust", "gf", False), ("thrust", "N", False)],
    "motor_c": [("tmot", "C", False)],
    "command": [("thr", "%", False), ("pwm", "us", False)],
    "air": [("airspeed", "m/s", False)],
    "cell": [("c{}", "V", False), ("cell{}", "V", True), ("C{} mV", "mV", False)],
}

RIDE: Words = {
    "voltage": [("Battery volts (V)", "V", True), ("Batt V", "V", True), ("battery_volts", "V", True)],
    "current": [("Battery amps (A)", "A", True), ("Batt A", "A", True), ("battery_amps", "A", True)],
    "charge": [("Amp hours used (Ah)", "Ah", True), ("Ah used", "Ah", True), ("mAh used", "mAh", True)],
    "power": [("Battery watts (W)", "W", True), ("Batt W", "W", True), ("battery_watts", "W", True)],
    "energy": [("Watt hours used (Wh)", "Wh", True), ("Wh used", "Wh", True)],
    "rpm": [("Motor RPM", "rpm", True)],
    "motor_c": [("Motor temp °C", "C", True), ("Motor temp (°F)", "F", True)],
    "esc_c": [("Controller temp °C", "C", True)],
    "pack_c": [("Battery temp (°C)", "C", True)],
    "air_c": [("Outside temp (°C)", "C", True)],
    "ground": [("Speed (km/h)", "km/h", False), ("GPS speed (mph)", "mph", True), ("SOG (kn)", "kn", True)],
    "course": [("COG (deg)", "deg", True), ("Course (°)", "deg", True)],
    "lat": [("Latitude", "deg", True), ("Lat", "deg", True), ("Lat (deg)", "deg", True)],
    "lon": [("Longitude", "deg", True), ("Lon", "deg", True), ("Lon (deg)", "deg", True)],
}


def _language(**words: str) -> Words:
    """One heading a quantity, with a unit in brackets."""
    unit = {
        "voltage": "V",
        "current": "A",
        "charge": "mAh",
        "power": "W",
        "energy": "Wh",
        "rpm": "rpm",
        "cell": "V",
    }
    wrote = {"rpm": "1/min"}
    out: Words = {}
    for key, word in words.items():
        u = unit.get(key, "C")
        shown = {"C": "°C"}.get(u, wrote.get(key, u))
        out[key] = [(f"{word} [{shown}]", u, True), (f"{word} ({shown})", u, True)]
        if key in ("voltage", "cell"):
            out[key].append((f"{word} [mV]", "mV", True))
        if key == "charge":
            out[key].append((f"{word} [Ah]", "Ah", True))
    return out


LANGUAGES: dict[str, tuple[str, Words]] = {
    "de": (
        "Zeit",
        _language(
            voltage="Akkuspannung",
            current="Strom",
            charge="Entnommene Ladung",
            power="Leistung",
            energy="Energie",
            rpm="Drehzahl",
            motor_c="Motortemperatur",
            pack_c="Akkutemperatur",
            air_c="Lufttemperatur",
            cell="Zelle {}",
        ),
    ),
    "fr": (
        "Temps",
        _language(
            voltage="Tension batterie",
            current="Intensité",
            charge="Charge consommée",
            power="Puissance",
            energy="Énergie",
            rpm="Vitesse de rotation",
            motor_c="Température moteur",
            pack_c="Température batterie",
            cell="Élément {}",
        ),
    ),
    "es": (
        "Tiempo",
        _language(
            voltage="Tensión batería",
            current="Corriente",
            charge="Carga consumida",
            power="Potencia",
            energy="Energía",
            motor_c="Temperatura motor",
            cell="Celda {}",
        ),
    ),
    "it": (
        "Tempo",
        _language(
            voltage="Tensione batteria",
            current="Corrente",
            charge="Carica consumata",
            power="Potenza",
            energy="Energia",
            rpm="Giri motore",
            cell="Cella {}",
        ),
    ),
    "nl": (
        "Tijd",
        _language(
            voltage="Accuspanning",
            current="Stroom",
            charge="Verbruikte lading",
            power="Vermogen",
            rpm="Toerental",
            motor_c="Motortemperatuur",
            cell="Cel {}",
        ),
    ),
    "pt": (
        "Tempo",
        _language(
            voltage="Tensão da bateria",
            current="Corrente",
            charge="Carga consumida",
            power="Potência",
            motor_c="Temperatura do motor",
            cell="Célula {}",
        ),
    ),
    "sv": (
        "Tid",
        _language(
            voltage="Batterispänning",
            current="Ström",
            power="Effekt",
            rpm="Varvtal",
            motor_c="Motortemperatur",
            cell="Cell {}",
        ),
    ),
    "pl": ("Czas", _language(voltage="Napięcie baterii", current="Prąd", power="Moc", rpm="Obroty silnika")),
}

OTHER_THINGS: list[tuple[str, float, float, float]] = [
    ("Mains voltage (V)", 230, 1.5, 0.1),
    ("Sensor supply (V)", 5.02, 0.004, 0.001),
    ("Reference (V)", 2.5, 0.001, 1e-4),
    ("Throttle signal (V)", 2.2, 0.7, 0.01),
    ("Backup battery (V)", 3.02, 0.002, 0.001),
    ("House battery (V)", 12.7, 0.05, 0.01),
    ("Set current (A)", 10, 0, 1),
    ("Voltage setpoint (V)", 12.6, 0, 0.1),
    ("Voltage limit (V)", 42, 0, 0.1),
    ("Current limit (A)", 40, 0, 1),
    ("Cell imbalance (mV)", 12, 3, 1),
    ("Contact resistance (mOhm)", 14, 0.5, 0.1),
    ("Internal resistance (mΩ)", 22, 0.4, 0.1),
    ("dV/dt (mV/s)", 0, 4, 0.1),
    ("Wind speed (m/s)", 4, 1, 0.1),
    ("Shunt (mV)", 22, 9, 0.01),
    ("Humidity (%)", 55, 1, 0.1),
    ("Cadence (rpm)", 74, 9, 1),
    ("Heart rate (bpm)", 121, 8, 1),
    ("Depth (m)", 3.1, 0.6, 0.1),
    ("CPU temp (°C)", 51, 2, 0.1),
    ("Signal (dBm)", -71, 3, 1),
    ("Light (lx)", 820, 60, 1),
    ("Pressure (hPa)", 1004, 0.3, 0.1),
    ("Human power (W)", 140, 30, 1),
    ("Solar current (A)", 2.1, 0.4, 0.01),
    ("Charger voltage (V)", 13.9, 0.1, 0.01),
    ("Fan speed (rpm)", 2400, 40, 1),
    ("State of charge (%)", 71, 8, 1),
    ("Checksum", 120, 70, 1),
    ("Cycle", 3, 0, 1),
    ("Target speed (km/h)", 20, 0, 1),
    ("Range left (km)", 31, 3, 0.1),
    ("Gearbox oil temp (°C)", 48, 4, 0.1),
    ("Crosstalk (mV)", 3, 1, 0.1),
    ("Remaining capacity (mAh)", 3100, 200, 1),
    ("Coil current (A)", 0.8, 0.1, 0.01),
    ("Lamp voltage (V)", 11.8, 0.1, 0.01),
    ("Pump current (A)", 1.4, 0.2, 0.01),
]
"""Columns that are none of the drive's: heading, mean, deviation and step of what they read."""
