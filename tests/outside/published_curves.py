import pybamm, numpy as np
L=[1,.98,.95,.9,.8,.7,.6,.5,.4,.3,.2,.1,.05,.02,0]
for name,(lo,hi) in {"Chen2020":(2.5,4.2),"Mohtat2020":(3.0,4.2),"NCA_Kim2011":(2.7,4.2),"Ecker2015":(2.5,4.2),"Prada2013":(2.0,3.6),"ORegan2022":(2.5,4.4),"Ai2020":(3.0,4.2),"Ramadass2004":(2.8,4.2),"Marquis2019":(3.1,4.1),"Xu2019":(3,4.2)}.items():
    try:
        pv=pybamm.ParameterValues(name)
        pv.update({"Lower voltage cut-off [V]":lo,"Upper voltage cut-off [V]":hi,"Open-circuit voltage at 0% SOC [V]":lo,"Open-circuit voltage at 100% SOC [V]":hi},check_already_exists=False)
        es=pybamm.lithium_ion.ElectrodeSOHSolver(pv) if name not in() else None
        p=pybamm.LithiumIonParameters()
        x0,x100,y100,y0=es.get_min_max_stoichiometries()
        T=298.15
        out=[]
        for z in L:
            x=x0+z*(x100-x0); y=y0-z*(y0-y100)
            v=pv.evaluate(p.p.prim.U(pybamm.Scalar(y),pybamm.Scalar(T))-p.n.prim.U(pybamm.Scalar(x),pybamm.Scalar(T)))
            out.append(round(float(v),3))
        print(name,out)
    except Exception as e: print(name,type(e).__name__,str(e)[:150])
