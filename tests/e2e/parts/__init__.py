"""Gatewright with real parts around it: a broker, devices that speak MQTT, a phone, a voice."""
