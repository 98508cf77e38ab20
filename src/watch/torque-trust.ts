/** How far a model's torques of one joint may be believed: held against what its drive told. */
export class TorqueTrust {
  #samples = 0
  #model = 0
  #both = 0
  #off = 0
  #worst = 0

  /** @param model N m @param told N m; one that is not told (NaN) is passed over */
  see(model: number, told: number): void {
    if (!Number.isFinite(told)) return
    const off = told - model
    this.#samples++
    this.#model += model * model
    this.#both += model * told
    this.#off += off * off
    if (Math.abs(off) > this.#worst) this.#worst = Math.abs(off)
  }

  get seen(): boolean {
    return this.#samples > 0
  }

  /** Told over model, by least squares through zero: 1 when they agree. NaN when the model has no torque at all. */
  get ratio(): number {
    return this.#both / this.#model
  }

  /** N m, RMS of what the drive told beyond the model */
  get residual(): number {
    return this.#samples === 0 ? 0 : Math.sqrt(this.#off / this.#samples)
  }

  /** N m, the greatest of it, either way; 0 where nothing was told */
  get worst(): number {
    return this.#worst
  }
}
