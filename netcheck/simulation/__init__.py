"""What ngspice says of a circuit: engine.py alone knows the binding, worker.py alone loads it."""
