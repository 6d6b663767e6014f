"""Gatewright with real parts: a broker, MQTT devices, a phone, voice."""
