# Writes the reference trajectories of this folder: python3 trajectories.py FOLDER_OF_OVENSIM
import sys

sys.path.insert(0, sys.argv[1])
import ovensim as o

DATE = "2026-11-25"
OVENS = {'a': {}, 'b': dict(Cw=2500., Uwc=1.0, tau_p=45., delay=8.)}
WHAT = {
    'cold': 'full power from cold for an hour',
    'step': 'settled at 190 degC, then 5 % of full power more for an hour',
    'door': 'settled at 200 degC, duty kept, door open from 600 s to 620 s',
    'empty': 'empty, full power from cold for an hour',
    'load': 'empty, duty 0.3 from cold for an hour, at 1800 s the usual blade in at 22 degC',
}


def write(name, run, kw):
    p = o.par(**kw)
    area, share = p.Ab, p.Fe_b
    u = 0.3 if run == 'load' else 1.0
    if run in ('empty', 'load'):
        p.Ab = p.Fe_b = 0.0  # nothing reaches a blade: the oven is empty
    if run in ('cold', 'empty', 'load'):
        pl = o.Plant(p)
    else:
        pl, u = o.at_steady(p, 190.0 if run == 'step' else 200.0)
    rows = [(0, list(pl.x))]
    for i in range(14400):
        if run == 'load' and i == 7200:
            p.Ab, p.Fe_b = area, share
        more = 0.05 if run == 'step' else 0.0
        pl.step((u + more)*p.Pmax, run == 'door' and 2400 <= i < 2480)
        if (i + 1) % 40 == 0:
            rows.append(((i + 1)//4, list(pl.x)))
    with open(f'oven-{name}-{run}.csv', 'w') as f:
        f.write(f'# Reference oven {name.upper()}: {WHAT[run]}.\n')
        f.write("# Source: ovensim.py, the house's reference oven in Python, run with\n")
        f.write(f'# python3 trajectories.py FOLDER_OF_OVENSIM on {DATE}; every 10 s.\n')
        f.write(f'# duty {u:.10f}\n')
        f.write('t_s,element_c,air_c,wall_c,case_c,blade_c,probe_c\n')
        for t, x in rows:
            f.write(f'{t},' + ','.join(f'{v:.5f}' for v in x) + '\n')


for name, kw in OVENS.items():
    for run in WHAT:
        if name == 'a' or run in ('cold', 'step', 'door'):
            write(name, run, kw)
