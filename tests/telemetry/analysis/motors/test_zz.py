import importlib.util,pathlib
spec=importlib.util.spec_from_file_location("tl",pathlib.Path(__file__).parent/"test_limiting.py");m=importlib.util.module_from_spec(spec);spec.loader.exec_module(m)
held,analyse,signals_of=m.held,m.analyse,m.signals_of
def test_zz(fly):
    trace, flight, _ = fly(900, has=("voltage","throttle","current","rpm"))
    found = analyse(signals_of(held(trace, ("left",)), flight))
    s = signals_of(held(trace, ("left",)), flight)
    print([(e.kind,e.motor,e.start_s,e.end_s) for e in found.events], s.decisions if hasattr(s,'decisions') else '')
    assert 0
