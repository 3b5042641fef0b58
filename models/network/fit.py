"""Trains the network that reads kind and points of a print, on drawn prints (see README.md).

cargo run --release --example network_prints -- 3000000 20000 PRINTS.bin - - -
DEV=cpu python3 models/network/fit.py PRINTS.bin 12000 WEIGHTS.bin   (DEV=cuda with a GPU)

With a fourth name, OLD.bin, training goes on from those weights on other prints, at half the pace.
"""

import copy, math, os, sys, time
import numpy as np
import torch, torch.nn as nn, torch.nn.functional as F

G = 64
I = 256
H = 6 + 5 + 5 + 4 + 40 + 32
K8 = np.array([0, 1, 1, 1, 2, 3, 4, 4, 4, 4, 4, 4, 4, 5, 5, 6, 6, 7, 7, 7])
QUALITIES = ["good", "fair", "poor"]


def load(paths, numbers, *shapes):
    """The records of some files: the numbers of their heads, then the signed bytes that follow, of these shapes."""
    sizes = [numbers * 4] + [math.prod(shape) for shape in shapes]
    ends = np.cumsum(sizes)
    parts = [[] for _ in sizes]
    for path in paths:
        n = os.path.getsize(path) // ends[-1]
        raw = np.memmap(path, dtype=np.uint8, mode="r", shape=(n, ends[-1]))
        for part, end, size in zip(parts, ends, sizes):
            part.append(np.ascontiguousarray(raw[:, end - size : end]))
    head, *planes = (np.concatenate(part) for part in parts)
    as_shaped = [p.view(np.int8).reshape(-1, *shape) for p, shape in zip(planes, shapes)]
    return [torch.from_numpy(a) for a in [head.view(np.float32), *as_shaped]]


# The numbers of a record's head are named at the top of examples/network_prints.rs.


def files(path):
    """A file, or those of a folder by name."""
    return [os.path.join(path, name) for name in sorted(os.listdir(path))] if os.path.isdir(path) else [path]


class Records:
    """The records of some files, and of those that came since where a path is a folder; to begin with it waits for `least` of these."""

    def __init__(s, paths, numbers, *shapes, least=6000):
        s.paths, s.form, s.seen, s.parts = paths, (numbers, *shapes), set(), []
        while s.more() < (least if any(map(os.path.isdir, paths)) else 1):
            time.sleep(5)

    def more(s):
        """Takes up what is new, and tells how many records there are."""
        new = [f for path in s.paths for f in files(path) if f not in s.seen and os.path.getsize(f)]
        if new:
            s.seen.update(new)
            came = [part.to(dev) for part in load(new, *s.form)]
            s.parts = [torch.cat(both) for both in zip(s.parts, came)] if s.parts else came
            if dev == "cuda":
                torch.cuda.empty_cache()  # else what every size before left behind stays taken
        return len(s.parts[0]) if s.parts else 0


def given():
    """Steps, file of weights, files of records, and the options --from=, --seconds= and --seed= of the command line."""
    steps, weights, *rest = sys.argv[1:]
    option = lambda name: next((w.removeprefix(name) for w in rest if w.startswith(name)), None)
    seconds = option("--seconds=")
    paths = [word for word in rest if not word.startswith("--")]
    return int(steps), weights, paths, dict(old=option("--from="), seconds=seconds and float(seconds), seed=int(option("--seed=") or 1))


def cbr(i, o, k=3, s=1):
    return nn.Sequential(nn.Conv2d(i, o, k, s, k // 2, bias=False), nn.BatchNorm2d(o), nn.ReLU(inplace=True))


def deepened(net, down, first, second, x):
    """The next coarser scale: one layer leads there, two more add to what it gives (He and others 2016)."""
    x = getattr(net, down)(x)
    return x + getattr(net, second)(getattr(net, first)(x))


class Net(nn.Module):
    """Flow and print to kind (8), ridges between and ridge count (mean and log spread, in eighths), and maps of points (9)."""

    def __init__(s):
        super().__init__()
        s.i1 = cbr(1, 8, 5, 2)
        s.i2 = cbr(8, 16, 3, 2)
        s.f1 = cbr(20, 24)
        s.d1 = cbr(24, 32, 3, 2)
        s.d1b = cbr(32, 32)  # 32
        s.d2 = cbr(32, 48, 3, 2)
        s.d2b = cbr(48, 48)  # 16
        s.d3 = cbr(48, 64, 3, 2)
        s.d3b = cbr(64, 64)  # 8
        s.d4 = cbr(64, 64, 3, 2)  # 4
        s.h1 = nn.Linear(64 * 16, 96)
        s.drop = nn.Dropout(0.3)
        s.h2 = nn.Linear(96, 12)
        s.u2 = cbr(64 + 64, 48)
        s.u1 = cbr(48 + 48, 32)
        s.u0 = cbr(32 + 32, 24)
        s.uf = cbr(24 + 24, 16)
        s.out = nn.Conv2d(16, 9, 1)  # 3 logits (core down, core up, delta), 3x(dx,dy)
        nn.init.constant_(s.out.bias, 0.0)
        s.out.bias.data[:3] = -5.0

    def forward(s, field, img):
        x = torch.cat([field, s.i2(s.i1(img))], 1)
        a = s.f1(x)
        b = s.d1b(s.d1(a))
        c = s.d2b(s.d2(b))
        d = s.d3b(s.d3(c))
        e = s.d4(d)
        y = s.h2(s.drop(F.relu(s.h1(s.drop(e.flatten(1))))))
        up = lambda t: F.interpolate(t, scale_factor=2, mode="nearest")
        u = s.u2(torch.cat([up(e), d], 1))
        u = s.u1(torch.cat([up(u), c], 1))
        u = s.u0(torch.cat([up(u), b], 1))
        u = s.uf(torch.cat([up(u), a], 1))
        return y, s.out(u)


dev = os.environ.get("DEV", "cuda")
GRID = torch.arange(G, device=dev) + 0.5 - G / 2  # middles of the cells, from the middle of the print
SHOW_EVERY = 5 if dev == "cpu" else 500  # steps between two lines of progress


def sched(opt, lr, step, steps):
    for g in opt.param_groups:
        g["lr"] = lr * min(1, step / 200) * (0.5 * (1 + math.cos(math.pi * step / steps))) + 1e-6


def averaged(net, decay):
    """The running mean of the weights, batch statistics as well."""
    return torch.optim.swa_utils.AveragedModel(
        net, multi_avg_fn=torch.optim.swa_utils.get_ema_multi_avg_fn(decay), use_buffers=True
    )


def prints(paths, more=0, mirrored=0.5, along=0):
    """The records of all prints and a function that makes a batch of some, `mirrored` of which are turned over. Heads have `more` numbers than
    those of WHOLE; `along` places that stand first among these go with the print."""
    records = Records(paths, H + more, (4, G, G), (1, I, I))
    print("prints", len(records.parts[0]), flush=True)
    k8 = torch.from_numpy(K8).to(dev)
    M8 = torch.tensor([0, 1, 3, 2, 4, 5, 6, 7], device=dev)
    yy, xx = torch.meshgrid(
        torch.arange(256, device=dev) / 4 - 32, torch.arange(256, device=dev) / 4 - 32, indexing="ij"
    )
    gy, gx = torch.meshgrid(GRID, GRID, indexing="ij")

    def batch(idx, aug=True):
        h, F_, I_ = (part[idx].float() for part in records.parts)
        F_, I_ = F_ / 127, I_ / 127
        y = k8[h[:, 0].long()]
        P = h[:, 20:60].reshape(-1, 8, 5).clone()
        B = len(idx)
        kind = P[..., 0]
        xy = P[..., 1:3].clone()
        vis = (P[..., 3] > 0.5) & (kind >= 0)
        dv = torch.stack([torch.cos(P[..., 4]), -torch.sin(P[..., 4])], -1)
        cnt = h[:, 4]
        btw = h[:, 5].clone()
        line = h[:, H : H + 2 * along].reshape(B, along, 2)
        if aug:
            # little printed below the core, or nothing: as of a finger's tip on a small sensor
            up = torch.where(vis & (kind == 0), xy[..., 1], torch.full_like(xy[..., 1], 99.0)).min(1).values
            up = torch.where(up > 90, torch.randn(B, device=dev) * 4, up)
            tip = torch.rand(B, device=dev) < 0.2
            low = up - 1.5 + torch.rand(B, device=dev) * 9
            low = torch.where(tip, low, torch.full_like(low, 99.0))
            lean = torch.randn(B, device=dev) * 0.12
            bow = torch.rand(B, device=dev) * 0.02
            kept = lambda x, y, e: y < e(low) + e(lean) * x - e(bow) * x * x
            I_ = I_ * kept(xx, yy, lambda v: v[:, None, None])[:, None]
            F_ = F_ * kept(gx, gy, lambda v: v[:, None, None])[:, None]
            vis = vis & kept(xy[..., 0], xy[..., 1], lambda v: v[:, None])
            # the window lies about the middle of what is printed
            mass = F_[:, 2].sum((1, 2)).clamp(min=1.0)
            middle = torch.stack([(F_[:, 2] * gx).sum((1, 2)), (F_[:, 2] * gy).sum((1, 2))], 1) / mass[:, None]
            # turned, scaled, mirrored, stretched and slanted: what a rule says of lines and circuits does not change
            spread = lambda: torch.rand(B, device=dev) * 2 - 1
            th = spread() * math.radians(18)
            sc = torch.exp(spread() * 0.16)
            st = torch.exp(spread() * 0.10)
            sl = spread() * 0.12
            fl = torch.where(torch.rand(B, device=dev) < mirrored, -1.0, 1.0)
            sh = torch.randn(B, 2, device=dev) * 2.5 + middle
            c, s = torch.cos(th) * sc, torch.sin(th) * sc
            # columns: where a step to the right and a step down of the new print lead on the old one
            right = torch.stack([c * fl * st, s * fl * st], 1)
            down = torch.stack([c * sl - s, s * sl + c], 1) / st[:, None]
            A = torch.stack([right, down], 2)
            T = torch.cat([A, (sh / 32).unsqueeze(2)], 2)
            g = F.affine_grid(T, (B, 1, 64, 64), align_corners=False)
            F_ = F.grid_sample(F_, g, mode="bilinear", align_corners=False)
            g = F.affine_grid(T, (B, 1, 256, 256), align_corners=False)
            I_ = F.grid_sample(I_, g, mode="bilinear", align_corners=False)
            Ai = torch.linalg.inv(A)
            # the flow as a tensor (xx, xy, yy) of tangents, right and down
            size = torch.hypot(F_[:, 0], F_[:, 1]).clamp(min=1e-6)
            co, si = F_[:, 0] / size, F_[:, 1] / size
            txx, txy, tyy = (1 + co) / 2, -si / 2, (1 - co) / 2
            a, b, c, d = (Ai[:, i, j, None, None] for i in (0, 1) for j in (0, 1))
            nxx = a * a * txx + 2 * a * b * txy + b * b * tyy
            nxy = a * c * txx + (a * d + b * c) * txy + b * d * tyy
            nyy = c * c * txx + 2 * c * d * txy + d * d * tyy
            norm = size / torch.hypot(nxx - nyy, 2 * nxy).clamp(min=1e-6)
            F_ = torch.cat([((nxx - nyy) * norm)[:, None], (-2 * nxy * norm)[:, None], F_[:, 2:]], 1)
            xy = torch.einsum("bij,bkj->bki", Ai, xy - sh[:, None, :])
            dv = torch.einsum("bij,bkj->bki", Ai, dv)
            line = torch.einsum("bij,bkj->bki", Ai, line - sh[:, None, :])
            y = torch.where(fl < 0, M8[y], y)
            # a tracing starts at the left delta: mirrored, another ridge is traced, so the number says nothing
            btw = torch.where(fl < 0, torch.full_like(btw, -99.0), btw)
            # the print cut off along a line, or by a sensor's window
            m = torch.rand(B, device=dev)
            ang = torch.rand(B, device=dev) * 2 * math.pi
            dist = 8 + torch.rand(B, device=dev) * 22
            ca, sa = torch.cos(ang), torch.sin(ang)
            hw = torch.rand(B, 2, device=dev) * 20 + 11
            off = torch.randn(B, 2, device=dev) * 4
            edge = m < 0.2
            win = (m > 0.2) & (m < 0.45)
            out = lambda x, y, e: (((x * e(ca) + y * e(sa)) > e(dist)) & e(edge)) | (
                (((x - e(off[:, 0])).abs() > e(hw[:, 0])) | ((y - e(off[:, 1])).abs() > e(hw[:, 1]))) & e(win)
            )
            cut = out(xx, yy, lambda v: v[:, None, None])
            I_ = I_ * (~cut[:, None])
            F_ = F_ * (~cut[:, None, 2::4, 2::4])
            vis = vis & ~out(xy[..., 0], xy[..., 1], lambda v: v[:, None])
            # spoiled patches
            for _ in range(3):
                at = torch.randn(B, 2, device=dev) * 12
                r = (torch.rand(B, device=dev) * 6 + 1) * (torch.rand(B, device=dev) < 0.25)
                dx, dy = xx - at[:, 0, None, None], yy - at[:, 1, None, None]
                spoiled = dx**2 + dy**2 < (r**2)[:, None, None]
                I_ = I_ * (~spoiled[:, None])
                coarse = spoiled[:, None, 2::4, 2::4]
                F_ = torch.cat([F_[:, :2], F_[:, 2:] * (~coarse)], 1)
            I_ = I_ * torch.exp(torch.randn(B, 1, 1, 1, device=dev) * 0.2)
            lo = F.interpolate(torch.randn(B, 1, 16, 16, device=dev), size=256, mode="bilinear")
            I_ = (I_ * (1 + 0.4 * lo).clamp(0.0, 1.7) + torch.randn_like(I_) * 0.08).clamp(-1, 1)
            d = (
                F.interpolate(torch.randn(B, 1, 12, 12, device=dev), size=64, mode="bilinear")[:, 0]
                * math.radians(9)
                * torch.rand(B, 1, 1, device=dev)
            )
            C, S = torch.cos(2 * d), torch.sin(2 * d)
            a, b = F_[:, 0].clone(), F_[:, 1].clone()
            F_[:, 0] = a * C - b * S
            F_[:, 1] = a * S + b * C
            F_[:, 3] *= torch.exp(torch.randn(B, 1, 1, device=dev) * 0.15)
        down = dv[..., 1] > 0
        ch = torch.where(kind == 1, 2, torch.where(down, 0, 1))
        return F_, I_, y, ch, xy, vis, cnt, btw, line

    return records, batch


def ptloss(out, ch, xy, vis):
    gy, gx = torch.meshgrid(GRID, GRID, indexing="ij")
    L = 0
    for k in (0, 1, 2):
        m = vis & (ch == k)
        dx = xy[..., 0][:, :, None, None] - gx
        dy = xy[..., 1][:, :, None, None] - gy
        d2 = torch.where(m[:, :, None, None], dx**2 + dy**2, torch.full_like(dx, 1e6))
        best, arg = d2.min(1)
        hm = torch.exp(-best / (2 * 0.9**2))
        p = torch.sigmoid(out[:, k]).clamp(1e-5, 1 - 1e-5)
        l = torch.where(best < 0.5, -((1 - p) ** 2) * torch.log(p), -((1 - hm) ** 4) * p**2 * torch.log(1 - p))
        L = L + l.sum() / max(1, m.sum())
        near = best < 3.0
        ox = torch.gather(dx, 1, arg[:, None])[:, 0]
        oy = torch.gather(dy, 1, arg[:, None])[:, 0]
        lo = (
            F.smooth_l1_loss(out[:, 3 + 2 * k], ox, reduction="none", beta=0.15)
            + F.smooth_l1_loss(out[:, 4 + 2 * k], oy, reduction="none", beta=0.15)
        ) * near
        L = L + 0.35 * lo.sum() / max(1, m.sum())
    return L


def learn(net, layers, steps, seconds, weights, loss, look, more=None, pace=2e-3, decay=2e-2, lasting=0.999, every=500):
    """Trains a network and returns the running mean of its weights. `loss` gives what to make small and the numbers to show of it; `look` takes the running mean and
    gives its loss on what is kept back and words about that; where that is least so far the weights go to `weights`.best. `layers` is ORDER and LAST of
    the network. With `seconds` it stops then: `steps`, what is expected of that time, only sets the course of the pace, and every half minute `more` takes up
    what records have come."""
    mean = averaged(net, lasting)
    opt = torch.optim.AdamW(net.parameters(), lr=pace, weight_decay=decay)
    began, looked, least, step, done = time.time(), time.time(), float("inf"), 0, 0.0
    while done < 1:
        sched(opt, pace, int(done * steps), steps)
        net.train()
        if seconds and more and time.time() - looked > 30:
            looked = time.time()
            more()
        whole, parts = loss()
        whole.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        opt.step()
        opt.zero_grad()
        mean.update_parameters(net)
        step += 1
        done = (time.time() - began) / seconds if seconds else step / steps
        if step % every == 0 or done >= 1:
            mean.eval()
            with torch.no_grad():
                kept, said = look(mean)
            if kept < least:
                least = kept
                write(copy.deepcopy(mean.module), weights + ".best", *layers)
            print(step, " ".join(f"{part.item():.4f}" for part in parts), said, f"{time.time() - began:.0f}s", flush=True)
    return mean.module


def nll(mu, ls, t, mask):
    ls = ls.clamp(-3, 3)
    return ((0.5 * ((mu - t) / torch.exp(ls)) ** 2 + ls) * mask).sum() / mask.sum().clamp(min=1)


def train(path, steps, seed, B, old=None):
    pace = 2e-3 if old is None else 1e-3
    records, batch = prints([path])
    n = len(records.parts[0])
    torch.manual_seed(seed)
    H0 = min(1000, n // 4)
    hold = torch.arange(0, H0, device=dev)
    tr = torch.arange(H0, n, device=dev)
    net = Net() if old is None else read(old, Net(), ORDER, LAST)
    net = net.to(dev)
    if old is not None:
        idx = tr[torch.randint(len(tr), (B,), device=dev)]
        b = batch(idx)
        restore_statistics(net, ORDER, b[0], b[1])
    mean = averaged(net, 0.999)
    opt = torch.optim.AdamW(net.parameters(), lr=pace, weight_decay=2e-2)
    t1 = time.time()
    for step in range(steps):
        sched(opt, pace, step, steps)
        idx = tr[torch.randint(len(tr), (B,), device=dev)]
        net.train()
        b = batch(idx)
        y, o = net(b[0], b[1])
        l1 = F.cross_entropy(y[:, :8], b[2], label_smoothing=0.03)
        l2 = ptloss(o, *b[3:6])
        l3 = nll(y[:, 8], y[:, 9], b[7] / 8, (b[7] > -90) & (b[2] >= 4))
        l4 = nll(y[:, 10], y[:, 11], b[6] / 8, b[6] >= 0)
        (l1 + 0.5 * l2 + 0.1 * l3 + 0.1 * l4).backward()
        opt.step()
        opt.zero_grad()
        mean.update_parameters(net)
        if (step + 1) % SHOW_EVERY == 0 or step + 1 == steps:
            mean.eval()
            with torch.no_grad():
                c = 0
                e = []
                for i in range(0, H0, 250):
                    b = batch(hold[i : i + 250], False)
                    yy_, _ = mean(b[0], b[1])
                    c += (yy_[:, :8].argmax(1) == b[2]).float().sum().item()
                    k = b[7] > -90
                    e.append(((yy_[:, 8] * 8 - b[7]).abs()[k] < 2.5).float())
            print(
                step + 1,
                f"{l1.item():.3f} {l2.item():.3f} {l3.item():.3f} {l4.item():.3f} hold {c/H0:.4f} between {torch.cat(e).mean().item():.3f} {time.time()-t1:.0f}s",
                flush=True,
            )
    return mean.module


ORDER = ["i1", "i2", "f1", "d1", "d1b", "d2", "d2b", "d3", "d3b", "d4", "u2", "u1", "u0", "uf"]
LAST = ["out", "h1", "h2"]


def read(path, net, order, last):
    """The network from a file of weights: batch statistics at rest, the folded shift as their offset."""
    numbers = torch.from_numpy(np.fromfile(path, "<f4"))
    taken = 0

    def fill(into):
        nonlocal taken
        into.data = numbers[taken : taken + into.numel()].reshape(into.shape).clone()
        taken += into.numel()

    for k in order:
        m = getattr(net, k)
        fill(m[0].weight)
        fill(m[1].bias)
        m[1].weight.data = torch.sqrt(m[1].running_var + m[1].eps)
    for k in last:
        fill(getattr(net, k).weight)
        fill(getattr(net, k).bias)
    assert taken == len(numbers)
    return net


def restore_statistics(net, order, *given):
    """Gives every batch normalisation the statistics of a batch without changing what the network answers."""

    def look(bn):
        def hook(conv, given, made):
            with torch.no_grad():
                made = made.detach()
                bn.running_mean.copy_(made.mean((0, 2, 3)))
                bn.running_var.copy_(made.var((0, 2, 3)))
                bn.weight.copy_(torch.sqrt(bn.running_var + bn.eps))
                bn.bias.add_(bn.running_mean)

        return hook

    hooks = [getattr(net, k)[0].register_forward_hook(look(getattr(net, k)[1])) for k in order]
    net.eval()
    with torch.no_grad():
        net(*given)
    for h in hooks:
        h.remove()


def weather(I):
    """Contrast, thickness, spoiled patches, sharpness, unevenness and noise, each plane apart; now and then one plane is missing."""
    n, planes, rows, columns = I.shape
    rand = lambda *s: torch.rand(*s, device=I.device) * 2 - 1
    for _ in range(2):
        ax, ay = torch.rand(n, device=I.device) * columns, torch.rand(n, device=I.device) * rows
        r = (3 + torch.rand(n, device=I.device) * 12) * (torch.rand(n, device=I.device) < 0.2)
        X, Y = torch.arange(columns, device=I.device), torch.arange(rows, device=I.device)
        hit = ((X[None, None] - ax[:, None, None]) ** 2 + (Y[None, :, None] - ay[:, None, None]) ** 2) < (r**2)[:, None, None]
        I = torch.where(hit[:, None], rand(n, planes, 1, 1) * 0.7, I)
    hard = 1 + 3 * torch.rand(n, planes, 1, 1, device=I.device) ** 2
    I = torch.tanh(I * hard) / torch.tanh(hard)
    soft = F.avg_pool2d(I, 3, 1, 1)
    I = torch.where(torch.rand(n, planes, 1, 1, device=I.device) < 0.25, soft, I)
    coarse = (n, planes, max(3, rows // 10), max(3, columns // 10))
    lo = F.interpolate(torch.randn(coarse, device=I.device), size=(rows, columns), mode="bilinear")
    thick = F.interpolate(torch.randn(coarse, device=I.device), size=(rows, columns), mode="bilinear")
    I = I * torch.exp(torch.randn(n, planes, 1, 1, device=I.device) * 0.2) * (1 + 0.35 * lo).clamp(0.1, 1.7)
    I = I + 0.1 * torch.randn(n, planes, 1, 1, device=I.device) + 0.1 * thick
    I = I + torch.randn_like(I) * 0.15 * torch.rand(n, planes, 1, 1, device=I.device)
    lost = torch.rand(n, planes, 1, 1, device=I.device) < 0.08
    return torch.where(lost, torch.zeros_like(I), I).clamp(-1, 1)


def write(n, path, order, last):
    """Weights with the batch statistics folded in, little-endian f32, layer by layer."""
    n = n.eval().cpu()
    buf = []
    for k in order:
        m = getattr(n, k)
        w = m[0].weight.detach()
        b = m[1]
        s = b.weight.detach() / torch.sqrt(b.running_var + b.eps)
        buf += [(w * s[:, None, None, None]).flatten(), (b.bias.detach() - b.running_mean * s)]
    for k in last:
        m = getattr(n, k)
        buf += [m.weight.detach().flatten(), m.bias.detach()]
    a = torch.cat(buf).numpy().astype("<f4")
    a.tofile(path)


if __name__ == "__main__":
    write(train(sys.argv[1], int(sys.argv[2]), 1, 192, *sys.argv[4:5]), sys.argv[3], ORDER, LAST)
